#include "speaker/speaker.h"

#include <pthread.h>
#include <sched.h>
#include <sys/resource.h>

enum {
	PRIORITY = 10, /* below the sound server's threads */
	SPIN_US = 200000,
	NICE = -10,
};

void hurry_begin(void)
{
	const struct rlimit limit = {.rlim_cur = SPIN_US, .rlim_max = SPIN_US};
	const struct sched_param wanted = {.sched_priority = PRIORITY};

	/* A thread inherits how the one that starts it is scheduled. */
	if (setrlimit(RLIMIT_RTTIME, &limit) == 0)
		pthread_setschedparam(pthread_self(), SCHED_FIFO, &wanted);
}

void hurry_end(void)
{
	const struct sched_param wanted = {0};

	pthread_setschedparam(pthread_self(), SCHED_OTHER, &wanted);
}

void hurry_thread(void)
{
	/* On Linux that is this thread alone, whatever POSIX says. */
	setpriority(PRIO_PROCESS, 0, NICE);
}
