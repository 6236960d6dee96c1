/* pullcall-board: what `pullcall board` becomes. Any signal ends it: there is nothing to save. */
#include "bench/bench.h"
#include "board/board.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* "127.0.0.1:8077" (IPv4; port 0: any free one). False if it is not an address. */
static bool read_address(const char *text, void *out)
{
	struct sockaddr_in *address = out;
	char host[INET_ADDRSTRLEN], port[6];
	int length = 0;

	if (sscanf(text, "%15[0-9.]:%5[0-9]%n", host, port, &length) != 2 || text[length])
		return false;
	long number = strtol(port, NULL, 10);
	*address = (struct sockaddr_in){.sin_family = AF_INET, .sin_port = htons((uint16_t)number)};
	return number <= UINT16_MAX && inet_pton(AF_INET, host, &address->sin_addr) == 1;
}

/* A token is the one line of a file that only its owner can read: letters, digits, - and _. False
 * with *why (static text). */
static bool token_read(const char *path, char token[static TOKEN_MAX + 1], const char **why)
{
	static const char allowed[] =
		"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
	char line[TOKEN_MAX + 2] = "";
	struct stat file = {0};
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

	*why = NULL;
	if (fd < 0 || fstat(fd, &file) < 0 || read(fd, line, sizeof(line) - 1) < 0)
		*why = strerror(errno);
	if (fd >= 0)
		close(fd);
	size_t length = strspn(line, allowed);
	if (!*why && file.st_mode & (S_IRWXG | S_IRWXO))
		*why = "others can read it: make it yours alone (chmod 600)";
	else if (!*why && (length < TOKEN_MIN || length > TOKEN_MAX || line[length] != '\n'))
		*why = "expected one line of 16 to 128 letters, digits, - and _";
	memcpy(token, line, *why ? 0 : length);
	return !*why;
}

int main(int argc, char **argv)
{
	struct sockaddr_in address;
	const char *token_file = NULL, *bench_file = NULL, *why = NULL;
	char token[TOKEN_MAX + 1] = "";
	struct faults faults = {0};
	bool steer = false;
	const struct option_row options[] = {
		{"listen", 0, "ADDRESS:PORT",
		 "where, 127.0.0.1:8077 unless given; an address that other machines can reach "
		 "needs --token-file",
		 .read = read_address, .out = &address, .expected = "an IPv4 address and a port"},
		{"token-file", 0, "FILE", "only who knows the token in this file may look",
		 .text = &token_file},
		{"steer", 0, NULL, "the page has next, again, back and pause; needs --token-file",
		 .flag = &steer},
		{"bench", 0, "FILE", "the bench file (language), instead of the usual one",
		 .text = &bench_file},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall board",
		.usage = "[OPTION...]",
		.about =
			"Serves a page for a tablet or a second screen at the bench: the call, the next "
			"one, the bed at this call, how far, the time left, the rack. Prints the page's "
			"address, and serves it until a signal ends it.",
		.end = "Exit: 0 help was given, 1 the token or bench file is at fault, 2 wrong usage, 69 the program "
		       "pullcall-board is missing, 71 it cannot listen there.",
		.options = options,
	};

	standard_files_open();
	read_address("127.0.0.1:8077", &address);
	command_line_read(&line, argc, argv);
	if (!token_file && steer)
		command_line_wrong(&line, "--steer needs --token-file");
	if (!token_file && !address_is_loopback(&address))
		command_line_wrong(&line, "others can reach that address: it needs "
					  "--token-file");
	struct bench *bench = bench_find(bench_file, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	int code = EXIT_NO;
	if (book && token_file && !token_read(token_file, token, &why)) {
		fprintf(stderr, "pullcall board: %s: %s\n", token_file, why);
	} else if (book) {
		serve(&address, token, steer, &(struct board_words){bench->language, book});
		fprintf(stderr, "pullcall board: cannot listen there: %s\n", strerror(errno));
		code = EXIT_SYSTEM;
	}
	faults_report(&faults);
	phrasebook_free(book);
	bench_free(bench);
	return code;
}
