/* The form of a job plan: for `pullcall plan new`, and for the columns of `pullcall rack add
 * --csv`.
 */
#include "base/base.h"
#include "cli/cli.h"
#include "job/job.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { METHOD = 3 };

static bool is_one_piece(const struct form *form)
{
	return strcmp(form->answer[METHOD], method_names[METHOD_ONE_PIECE]) == 0;
}

static bool is_two_piece(const struct form *form)
{
	return !is_one_piece(form);
}

/* NOLINTBEGIN(bugprone-macro-parentheses): `of` is joined with what is around it. */
#define STRING(of, words, when)                                                                    \
	{                                                                                          \
		"string/" of "/name",                                                              \
		words,                                                                             \
		"Such as: co-polyester 1.25. It is spoken.",                                       \
		"",                                                                                \
		.write = form_write_text,                                                          \
		.applies = when},                                                                  \
		{"string/" of "/kind", "", "", "", .applies = when, .silent = true},               \
		{"string/" of "/reel", "", "", "", .write = form_write_text, .applies = when,      \
		 .silent = true},                                                                  \
		{"string/" of "/on_hand", "", "", "", .applies = when, .silent = true},            \
	{                                                                                          \
		"string/" of "/prestretch", "", "", "", .applies = when, .silent = true            \
	}

/* NOLINTEND(bugprone-macro-parentheses) */

static const struct question questions[] = {
	{"job", "Name of the job", "The file is named so, and the journal too.", NULL,
	 .write = form_write_text},
	{"pattern", "Pattern", "The name of a pattern: pullcall pattern list shows them.", NULL},
	{"stringer", "Stringer", "Who strings it.", NULL, .write = form_write_text},
	[METHOD] = {"method", "Method", "two-piece or one-piece.", "two-piece"},
	{"detail", "", "", "", .silent = true},
	{"tension/mains", "Tension of the mains", "Such as 54 lb, 24.5 kg or 240 N.", NULL},
	{"tension/crosses", "Tension of the crosses", "Such as 52 lb.", NULL},
	STRING("mains", "String of the mains", is_two_piece),
	STRING("crosses", "String of the crosses", is_two_piece),
	STRING("whole", "String", is_one_piece),
	{"racket", "Mark or serial number of the racket",
	 "When it comes again, what it had is known.", "", .write = form_write_text},
	{"customer", "", "", "", .write = form_write_text, .silent = true},
	{"due", "Day on which it is due", "Such as 2026-12-01.", ""},
	{"notes", "", "", "", .write = form_write_text, .silent = true},
	{0},
};

static bool read_plan(const char *file, struct faults *faults)
{
	struct plan plan;
	bool good = plan_read_text(&plan, "answers", file, &MACHINE_DEFAULT, faults);

	plan_free(&plan);
	return good;
}

static bool is_taken(const char *name)
{
	char *path = memory_format("%s.yaml", name);
	bool taken = access(path, F_OK) == 0;

	free(path);
	return taken;
}

void plan_form(struct form *form)
{
	*form = (struct form){
		.what = "plan",
		.about = "Questions about a racket to be strung.",
		.comment = "Written from answers at the counter.",
		.questions = questions,
		.read = read_plan,
		.is_taken = is_taken,
	};
}

int plan_question(const char *key)
{
	for (int n = 0; questions[n].key; n++)
		if (strcmp(questions[n].key, key) == 0)
			return n;
	return -1;
}

int plan_missing(const struct form *form, int n)
{
	while (questions[n].key && (questions[n].standard || form->answer[n][0]))
		n++;
	return questions[n].key ? n : -1;
}

void plan_defaults(struct form *form)
{
	const char *racket = form->answer[plan_question("racket")];
	const char *pattern = form->answer[plan_question("pattern")];
	time_t now = (time_t)(clock_wall_us() / SECOND_US);
	struct tm local;
	char minute[32];

	if (!form->answer[METHOD][0])
		snprintf(form->answer[METHOD], ANSWER_MAX, "%s", questions[METHOD].standard);
	if (!form->answer[0][0] && localtime_r(&now, &local) &&
	    strftime(minute, sizeof(minute), "%Y%m%d-%H%M", &local))
		snprintf(form->answer[0], ANSWER_MAX, "%.40s-%s", racket[0] ? racket : pattern,
			 minute);
}
