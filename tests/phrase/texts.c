/* texts JOB PATTERN PHRASEBOOK DETAIL [again]: what is said in a job, a text a line, each once. */
#include "base/base.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool print_texts(const struct phrasebook *book, const struct job *job,
			const struct pattern *pattern, bool again, struct faults *faults)
{
	struct sequence *sequence = sequence_compile(job, pattern, faults);
	struct phrase_options options = {.wording = again ? WORDING_AGAIN : WORDING_PLANNED};
	struct text said = {0};

	text_add(&said, "\n");
	for (int call = 0; sequence && call < sequence->call_count; call++) {
		char *words = phrase_call(book, sequence, call, &options);
		char *line = memory_format("\n%s\n", words);
		if (!strstr(said.bytes, line)) {
			text_add(&said, line + 1);
			puts(words);
		}
		free(line);
		free(words);
	}
	text_free(&said);
	bool good = sequence != NULL;
	sequence_free(sequence);
	return good;
}

static enum detail detail_of(const char *name)
{
	enum detail detail = 0;

	while (detail < DETAIL_QUICK && strcmp(detail_name(detail), name) != 0)
		detail++;
	return detail;
}

int main(int argc, char **argv)
{
	struct faults faults = {0};
	bool good = false;

	if (argc != 5 && argc != 6)
		return 2;
	struct job *job = job_read(argv[1], &faults);
	struct pattern *pattern = pattern_read(argv[2], &faults);
	struct phrasebook *book = phrasebook_read(argv[3], &faults);
	if (job && pattern && book) {
		job->detail = detail_of(argv[4]);
		good = print_texts(book, job, pattern, argc == 6, &faults);
	}
	faults_print(&faults, stderr);
	faults_free(&faults);
	phrasebook_free(book);
	pattern_free(pattern);
	job_free(job);
	return good ? 0 : 1;
}
