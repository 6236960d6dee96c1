#include "phrase/bundled.h"

#include "base/base.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int is_yaml(const struct dirent *entry)
{
	size_t length = strlen(entry->d_name);

	return length > 5 && strcmp(entry->d_name + length - 5, ".yaml") == 0;
}

struct phrasebook *bundled_phrasebook(const char *language)
{
	struct faults faults = {0};
	char *path = memory_format(SOURCE_DIR "/voice/%s.yaml", language);
	struct phrasebook *book = phrasebook_read(yaml_read(path, &faults));

	faults_print(&faults, stderr);
	assert_non_null(book);
	faults_free(&faults);
	free(path);
	return book;
}

void bundled_read(struct bundled *bundled)
{
	struct faults faults = {0};
	struct dirent **entries;
	int count = scandir(SOURCE_DIR "/patterns", &entries, is_yaml, alphasort);

	assert_in_range(count, BUNDLED_MIN, BUNDLED_MAX - 1);
	for (int i = 0; i < count; i++) {
		char *path = memory_format(SOURCE_DIR "/patterns/%s", entries[i]->d_name);
		bundled->patterns[i] = pattern_read(yaml_read(path, &faults));
		free(path);
		free(entries[i]);
	}
	free(entries);
	bundled->patterns[count] =
		pattern_read(yaml_read(SOURCE_DIR "/tests/phrase/bare-16x17.yaml", &faults));
	bundled->count = count + 1;
	bundled->book = bundled_phrasebook("en");
	faults_print(&faults, stderr);
	assert_int_equal(faults.errors + faults.warnings, 0);
}

void bundled_free(struct bundled *bundled)
{
	for (int i = 0; i < bundled->count; i++)
		pattern_free(bundled->patterns[i]);
	phrasebook_free(bundled->book);
}

static const char *const jobs[JOBS] = {
	"job: ridge-court-0042\n"
	"tension: { mains: 54 lb, crosses: 52.5 lb }\n",

	"job: 2026/11/01 no. 7 (16x19)\n"
	"tension: { mains: 24.35 kg, crosses: 23 kg }\n"
	"string: { mains: { name: co-polyester 1.25 }, crosses: { name: gut 1.30 / 16, prestretch: "
	"10 % } }\n"
	"weave: { side: right, start: under, behind: 0, first_pull: 1 }\n",

	"job: \"100 %\"\n"
	"tension: { mains: 241 N, crosses: 230 N }\n"
	"string: { mains: { prestretch: 2.5 % } }\n"
	"order: { start: head, first: right, lead: 3 }\n"
	"weave: { behind: 0, first_pull: 2 }\n",

	"job: \"#%\"\n"
	"tension: { mains: 50 lb, crosses: 50 lb }\n"
	"adjust: [ { strings: mains 5-6, by: -2 lb }, { strings: crosses 1-2, by: -1 lb },\n"
	"  { strings: crosses 9, by: 0.75 lb } ]\n"
	"order: { start: throat }\n"
	"weave: { side: right, behind: 1, first_pull: 1 }\n",

	"job: \"\\xc5ke & S\\xf8n\"\n"
	"tension: { mains: 101 N, crosses: 100 N }\n",

	"job: one piece of string\n"
	"method: one-piece\n"
	"tension: { mains: 24 kg, crosses: 23.5 kg }\n"
	"string: { whole: { name: co-polyester 1.25 } }\n"
	"order: { route: 1 }\n",

	"job: the other way round\n"
	"method: one-piece\n"
	"tension: { mains: 51 lb, crosses: 51 lb }\n"
	"order: { first: right, lead: 2, route: 1 }\n"
	"weave: { side: right, start: under, behind: 0, first_pull: 1 }\n",

	"job: flying clamps\n"
	"tension: { mains: 52 lb, crosses: 50 lb }\n",

	"job: flying and starting clamps\n"
	"tension: { mains: 52 lb, crosses: 50 lb }\n",

	"job: bars and six mounts\n"
	"tension: { mains: 23 kg, crosses: 22 kg }\n",
};

static const struct {
	const char *job;
	enum clamps clamps;
	bool starting_clamp;
	int mounts;
} machines[] = {
	{"flying clamps", CLAMPS_FLYING, false, MOUNTS_FEW},
	{"flying and starting clamps", CLAMPS_FLYING, true, MOUNTS_FEW},
	{"bars and six mounts", CLAMPS_GLIDE_BAR, true, MOUNTS_MANY},
};

struct job *bundled_job(int which)
{
	struct faults faults = {0};
	const char *method = strstr(jobs[which], "method:") ? "" : "method: two-piece\n";
	char *text = memory_format("%s%spattern: any\nstringer: apprentice\n"
				   "beyond_makers_range: wanted\n",
				   jobs[which], method);
	struct job *job = job_read(yaml_read_text("job.yaml", text, &faults));

	faults_print(&faults, stderr);
	assert_non_null(job);
	for (size_t i = 0; i < sizeof(machines) / sizeof(machines[0]); i++) {
		if (strcmp(machines[i].job, job->name) != 0)
			continue;
		job->machine.clamps = machines[i].clamps;
		job->machine.starting_clamp = machines[i].starting_clamp;
		job->machine.mounts = machines[i].mounts;
	}
	faults_free(&faults);
	free(text);
	return job;
}

struct notice_facts bundled_facts(const struct sequence *sequence, int call, const char *place)
{
	struct notice_facts facts = {
		.job = sequence->job->name,
		.place = place,
		.mains = sequence->pattern->mains,
		.crosses = sequence->pattern->crosses,
		.pattern = sequence->pattern->name,
		.tensions = {"54 lb", "52.5 lb"},
		.strings = {"co-polyester 1.25", ""},
		.jobs = 3,
	};

	for (int i = sequence->calls[call].first; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action == DO_PULL && move->string == STRING_MAIN)
			facts.mains_left++;
		else if (move->action == DO_PULL)
			facts.crosses_left += move->pulls_last - move->pulls_first + 1;
	}
	return facts;
}

void bundled_say_all(const struct phrasebook *book, const struct sequence *sequence,
		     const struct phrase_options *options,
		     void (*said)(const char *text, int call, void *context), void *context)
{
	for (int call = 0; call < sequence->call_count; call++) {
		char *text = phrase_call(book, sequence, call, options);
		if (text) /* nothing is asked */
			said(text, call, context);
		free(text);
		char *place = phrase_place(book, sequence, call, options);
		struct notice_facts facts = bundled_facts(sequence, call, place);
		facts.seconds_left = 60.0 * call;
		facts.seconds_worked = 61.0 * call;
		facts.notes = "Chip at 4H; \"mind\" it! (Gut: 1.30, kept dry?) ...";
		enum notice notice = (enum notice)(call % NOTICES);
		text = phrase_notice(book, notice, &facts, options);
		said(text, -1, context);
		free(text);
		text = phrase_notice(book, NOTICE_PLACE, &facts, options);
		said(text, -1, context);
		free(text);
		free(place);
	}
}

char *bundled_file(const char *path)
{
	FILE *in = fopen(path, "r");
	struct text text = {0};
	char bytes[4096];
	size_t length;

	if (!in)
		fail_msg("%s cannot be read", path);
	while ((length = fread(bytes, 1, sizeof(bytes), in)) > 0)
		text_add_part(&text, bytes, length);
	fclose(in);
	return text_take(&text);
}
