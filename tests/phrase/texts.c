/* texts JOB PATTERN PHRASEBOOK DETAIL [loud] [again]: what is said in a job, a text a line, each
 * once. */
#include "base/base.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool print_texts(const struct phrasebook *book, const struct job *job,
			const struct pattern *pattern, const struct phrase_options *options,
			struct faults *faults)
{
	struct sequence *sequence = sequence_compile(job, pattern, faults);
	struct text said = {0};

	text_add(&said, "\n");
	for (int call = 0; sequence && call < sequence->call_count; call++) {
		char *words = phrase_call(book, sequence, call, options);
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

	while (detail < DETAIL_QUICK && strcmp(detail_names[detail], name) != 0)
		detail++;
	return detail;
}

int main(int argc, char **argv)
{
	struct faults faults = {0};
	struct phrase_options options = {0};
	bool good = false;

	if (argc < 5)
		return 2;
	for (int i = 5; i < argc; i++) {
		options.clear |= strcmp(argv[i], "loud") == 0;
		if (strcmp(argv[i], "again") == 0)
			options.wording = WORDING_AGAIN;
	}
	struct job *job = job_read(yaml_read(argv[1], &faults));
	struct pattern *pattern = pattern_read(yaml_read(argv[2], &faults));
	struct phrasebook *book = phrasebook_read(yaml_read(argv[3], &faults));
	if (job && pattern && book) {
		job->detail = detail_of(argv[4]);
		good = print_texts(book, job, pattern, &options, &faults);
	}
	faults_print(&faults, stderr);
	faults_free(&faults);
	phrasebook_free(book);
	pattern_free(pattern);
	job_free(job);
	return good ? 0 : 1;
}
