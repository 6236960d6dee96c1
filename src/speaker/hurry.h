/* A turn on a busy machine, in time for sound. Asked of the kernel, which grants it to root and to
 * users with a limit for it (RLIMIT_RTPRIO, RLIMIT_NICE); without it all works the same, if nothing
 * else keeps the processors busy. Measured with two processors and eight busy processes: callbacks
 * at most 430 ms apart without, 35 ms with it.
 */
#ifndef SPEAKER_HURRY_H
#define SPEAKER_HURRY_H

/* For threads started between the two: real time, but never 0.2 s without a pause: the kernel ends
 * the process then. A callback that spins on a lost device must not take a processor with it. */
void hurry_begin(void);
void hurry_end(void);

/* For this thread and those it starts: before others of the ordinary kind. */
void hurry_thread(void);

#endif
