#include "cli/cli.h"

#include "pedal/pedal.h"

#include <signal.h>
#include <stddef.h>

static const int deaths[] = {SIGQUIT, SIGABRT, SIGSEGV, SIGBUS, SIGFPE, SIGILL};

enum { DEATHS = sizeof(deaths) / sizeof(deaths[0]) };

/* The handlers that were set before, by a sanitizer say. */
static struct sigaction before[DEATHS];

/* In a signal handler: only what is safe there. */
static void give_back(void)
{
	screen_give_back();
	terminal_restore();
}

static void on_death(int number, siginfo_t *info, void *context)
{
	(void)context;
	give_back();
	for (size_t i = 0; i < DEATHS; i++)
		if (deaths[i] == number)
			sigaction(number, &before[i], NULL);
	/* A fault comes again by itself, and with what is known about it; what was sent does not.
	 */
	if (info->si_code <= 0 || info->si_code == SI_KERNEL)
		raise(number);
}

static int on_stop(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	(void)source;
	(void)info;
	(void)data;
	give_back();
	raise(SIGSTOP);
	return 0;
}

/* SIGSTOP cannot be caught, so the terminal may not have been given back: take it again anyway. */
static int on_continue(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct screen *const *screen = data;

	(void)source;
	(void)info;
	terminal_retake();
	if (*screen)
		screen_take_again(*screen);
	return 0;
}

void suspend_start(sd_event *loop, struct screen **screen)
{
	struct sigaction death = {.sa_sigaction = on_death, .sa_flags = SA_SIGINFO};
	sigset_t mask;

	sigemptyset(&death.sa_mask);
	for (size_t i = 0; i < DEATHS; i++)
		sigaction(deaths[i], &death, &before[i]);
	sigemptyset(&mask);
	sigaddset(&mask, SIGTSTP);
	sigaddset(&mask, SIGCONT);
	sigprocmask(SIG_BLOCK, &mask, NULL);
	sd_event_add_signal(loop, NULL, SIGTSTP, on_stop, NULL);
	sd_event_add_signal(loop, NULL, SIGCONT, on_continue, screen);
}
