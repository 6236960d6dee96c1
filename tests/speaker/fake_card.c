/* A sound card for ALSA's file plugin: takes 48 kHz stereo from standard input at the pace of real
 * time, and throws it away. Stop it, and the card stands still without a word. */
#include "base/base.h"

#include <time.h>
#include <unistd.h>

enum { BYTES_A_SECOND = 48000 * 4, BLOCK = 1024 };

int main(void)
{
	char bytes[BLOCK];
	int64_t began_us = clock_steady_us(), taken = 0;
	ssize_t length;

	while ((length = read(STDIN_FILENO, bytes, sizeof bytes)) > 0) {
		taken += length;
		int64_t wait_us = began_us + taken * SECOND_US / BYTES_A_SECOND - clock_steady_us();
		if (wait_us < -SECOND_US) /* it was stopped: time lost is lost */
			began_us -= wait_us;
		if (wait_us > 0)
			nanosleep(&(struct timespec){.tv_sec = wait_us / SECOND_US,
						     .tv_nsec = wait_us % SECOND_US * 1000},
				  NULL);
	}
	return 0;
}
