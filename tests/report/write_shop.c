/* write_shop JOURNAL: a journal of an invented shop, for tests that drive the programs. */
#include "report/shop.h"

#include <stdio.h>

int main(int argc, char **argv)
{
	if (argc != 2) {
		fputs("usage: write_shop JOURNAL\n", stderr);
		return 2;
	}
	shop_write_jobs(argv[1]);
	return 0;
}
