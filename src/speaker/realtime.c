#include "speaker/speaker.h"

#include <pthread.h>
#include <sched.h>
#include <sys/resource.h>

enum {
	PRIORITY = 10, /* below a sound server's threads */
	SPIN_MAX_US = 200000,
	NICE = -10,
};

void realtime_begin(void)
{
	const struct rlimit limit = {.rlim_cur = SPIN_MAX_US, .rlim_max = SPIN_MAX_US};
	const struct sched_param wanted = {.sched_priority = PRIORITY};

	/* A thread inherits the scheduling of the one that starts it. */
	if (setrlimit(RLIMIT_RTTIME, &limit) == 0)
		pthread_setschedparam(pthread_self(), SCHED_FIFO, &wanted);
}

void realtime_end(void)
{
	const struct sched_param ordinary = {0};

	pthread_setschedparam(pthread_self(), SCHED_OTHER, &ordinary);
}

void raise_priority(void)
{
	/* On Linux, against POSIX, this is for one thread. */
	setpriority(PRIO_PROCESS, 0, NICE);
}
