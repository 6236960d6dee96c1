/* There is no way back in words yet: every mishap is refused with what to do by hand. */
#include "sequence/sequence.h"

struct sequence *sequence_go_back(const struct sequence *before, int call,
				  const struct mishap *mishap, struct faults *faults)
{
	(void)call;
	(void)mishap;
	fault_add(faults, FAULT_ERROR, before->job->file, (struct position){0}, "back",
		  "take the strings out by hand, and step back to their call");
	return NULL;
}
