#include "journal/internal.h"

#include <errno.h>
#include <stdio.h>
#include <sys/random.h>

/* RFC 9562, section 5.4: 122 random bits, version 4, variant 10. */
enum journal_status journal_uuid_new(struct journal *journal, char out[static JOURNAL_UUID_MAX])
{
	unsigned char b[16];

	if (getrandom(b, sizeof b, 0) != sizeof b)
		return journal_fail_errno(journal, "draw a random number", errno);
	b[6] = (unsigned char)(0x40 | (b[6] & 0x0f));
	b[8] = (unsigned char)(0x80 | (b[8] & 0x3f));
	snprintf(out, JOURNAL_UUID_MAX,
		 "%02x%02x%02x%02x-%02x%02x-%02x%02x-%02x%02x-%02x%02x%02x%02x%02x%02x", b[0], b[1],
		 b[2], b[3], b[4], b[5], b[6], b[7], b[8], b[9], b[10], b[11], b[12], b[13], b[14],
		 b[15]);
	return JOURNAL_OK;
}
