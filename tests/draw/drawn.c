#include "draw/drawn.h"

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

void drawn_read(struct drawn *drawn)
{
	struct faults faults = {0};
	struct dirent **entries;
	int count = scandir(SOURCE_DIR "/patterns", &entries, is_yaml, alphasort);

	assert_in_range(count, DRAWN_MIN, DRAWN_MAX);
	for (int i = 0; i < count; i++) {
		char *path = memory_format(SOURCE_DIR "/patterns/%s", entries[i]->d_name);
		drawn->patterns[i] = pattern_read(yaml_read(path, &faults));
		free(path);
		free(entries[i]);
	}
	free(entries);
	drawn->count = count;
	faults_print(&faults, stderr);
	assert_int_equal(faults.count, 0);
}

void drawn_free(struct drawn *drawn)
{
	for (int i = 0; i < drawn->count; i++)
		pattern_free(drawn->patterns[i]);
}

/* Between them: both sides, over and under, each detail, one by one and pulled behind. */
static const char *const plans[DRAWN_PLANS] = {
	"order: { first: left, lead: 1 }\n"
	"weave: { side: left, start: over, behind: 1, first_pull: 2 }\n"
	"detail: bench\n",
	"order: { first: right, lead: 3 }\n"
	"weave: { side: right, start: under, behind: 0, first_pull: 1 }\n"
	"detail: quick\n",
	"order: { start: head, first: right, lead: 2 }\n"
	"weave: { side: left, start: under, behind: 1, first_pull: 1 }\n"
	"detail: learner\n",
	"order: { start: throat, first: left }\n"
	"weave: { side: right, start: over, behind: 0, first_pull: 2 }\n"
	"detail: bench\n",
};

struct job *drawn_job(const struct pattern *pattern, int plan)
{
	struct faults faults = {0};
	char min[QUANTITY_TEXT_MAX];

	quantity_text(pattern->tension_min, min);
	char *text = memory_format("job: card-%d\npattern: %s\nstringer: apprentice\n"
				   "method: two-piece\ntension: { mains: %s, crosses: %s }\n"
				   "string: { mains: { name: co-polyester 1.25 }, crosses: { name: "
				   "multifilament 1.30 } }\n%s",
				   plan, pattern->name, min, min, plans[plan]);
	struct job *job = job_read(yaml_read_text("plan.yaml", text, &faults));
	faults_print(&faults, stderr);
	assert_non_null(job);
	free(text);
	return job;
}

void drawn_open(struct drawn_work *work, const char *pattern, int plan)
{
	struct faults faults = {0};
	char *path = memory_format(SOURCE_DIR "/patterns/%s.yaml", pattern);

	*work = (struct drawn_work){.pattern = pattern_read(yaml_read(path, &faults))};
	assert_non_null(work->pattern);
	work->job = drawn_job(work->pattern, plan);
	drawn_compile(work);
	free(path);
}

void drawn_compile(struct drawn_work *work)
{
	struct faults faults = {0};

	sequence_free(work->sequence);
	work->sequence = sequence_compile(work->job, work->pattern, &faults);
	if (!work->sequence)
		faults_print(&faults, stderr);
	assert_non_null(work->sequence);
	faults_free(&faults);
}

void drawn_close(struct drawn_work *work)
{
	sequence_free(work->sequence);
	job_free(work->job);
	pattern_free(work->pattern);
}

void drawn_each(int plan_count, void (*check)(const char *folder, const struct sequence *sequence),
		const char *folder)
{
	struct drawn drawn;

	drawn_read(&drawn);
	for (int i = 0; i < drawn.count; i++) {
		for (int plan = 0; plan < plan_count; plan++) {
			struct drawn_work work = {.pattern = drawn.patterns[i]};
			work.job = drawn_job(work.pattern, plan);
			drawn_compile(&work);
			check(folder, work.sequence);
			work.pattern = NULL;
			drawn_close(&work);
		}
	}
	drawn_free(&drawn);
}

int drawn_folder(void **state)
{
	char *folder = memory_copy("/dev/shm/pullcall-draw-XXXXXX");

	*state = folder;
	return mkdtemp(folder) ? 0 : -1;
}

int drawn_folder_gone(void **state)
{
	char *command = memory_format("rm -rf -- '%s'", (const char *)*state);
	int result = system(command); /* NOLINT(cert-env33-c): a path made by mkdtemp */

	free(command);
	free(*state);
	return result;
}

char *drawn_bytes(const char *path, size_t *length)
{
	FILE *file = fopen(path, "re");
	struct text bytes = {0};
	char part[65536];
	size_t got;

	if (!file)
		return NULL;
	while ((got = fread(part, 1, sizeof(part), file)) > 0)
		text_add_part(&bytes, part, got);
	fclose(file);
	*length = bytes.length;
	text_add(&bytes, "");
	return text_take(&bytes);
}

static struct phrasebook *book;

void drawn_speak(const char *language)
{
	char *path = memory_format(SOURCE_DIR "/voice/%s.yaml", language);
	struct faults faults = {0};

	phrasebook_free(book);
	book = phrasebook_read(yaml_read(path, &faults));
	faults_print(&faults, stderr);
	assert_non_null(book);
	free(path);
}

const struct phrasebook *drawn_book(void)
{
	if (!book)
		drawn_speak("en");
	return book;
}

void drawn_picture(const char *folder, const struct sequence *sequence,
		   const struct draw_options *options, struct picture *out)
{
	struct draw_options spoken = options ? *options : (struct draw_options){0};
	struct faults faults = {0};
	char *path = memory_format("%s/picture.svg", folder);
	size_t length = 0;

	spoken.book = drawn_book();
	enum exit_code code = draw_bed(sequence, &spoken, path, &faults);
	faults_print(&faults, stderr);
	assert_int_equal(code, EXIT_DONE);
	char *bytes = drawn_bytes(path, &length);
	assert_non_null(bytes);
	assert_true(picture_read(bytes, length, out));
	free(bytes);
	free(path);
}
