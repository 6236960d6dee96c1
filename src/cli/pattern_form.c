#include "cli/cli.h"
#include "frame/frame.h"

#include "base/base.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* How an answer is written into the file. */
enum shape {
	SHAPE_WORD,  /* as it is */
	SHAPE_TITLE, /* in quotes */
	SHAPE_HOLES, /* "7H 9H" as [7H, 9H] */
	SHAPE_SIDES, /* "8T" as it is, "8T 6T" as { left: 8T, right: 6T } */
	SHAPE_EACH,  /* "13 mm" as it is, "12 mm, 13 mm" as [12 mm, 13 mm] */
};

static const struct {
	const char *parent; /* the map that it belongs to, or NULL */
	const char *key;
	enum shape shape;
	const char *standard;
	const char *ask;
	const char *help;
	const char *comment; /* in the file, above the key or its map; NULL: none */
} questions[QUESTIONS] = {
	[ASK_NAME] = {NULL, "pattern", SHAPE_WORD, NULL, "Name of the pattern",
		      "Small letters, digits and hyphens: say what it is, such as open-16x19. The "
		      "file is named so, and job plans name it.",
		      NULL},
	[ASK_TITLE] = {NULL, "title", SHAPE_TITLE, "", "Title",
		       "A line that people read, such as: Sixteen by nineteen, six bridge holes.",
		       NULL},
	[ASK_SPORT] = {NULL, "sport", SHAPE_WORD, "tennis", "Sport",
		       "tennis, badminton, squash or racquetball.", NULL},
	[ASK_MAINS] = {NULL, "mains", SHAPE_WORD, NULL, "Number of mains",
		       "The lengthwise strings, both sides together.",
		       "Lengthwise and widthwise strings, both sides together."},
	[ASK_CROSSES] = {NULL, "crosses", SHAPE_WORD, NULL, "Number of crosses",
			 "The widthwise strings.", NULL},
	[ASK_HOLES_HEAD] = {"holes", "head", SHAPE_WORD, NULL, "Holes of one side at the head",
			    "Count from the middle of the head outward, down to half-way along the "
			    "side; where head ends and throat begins is yours to choose, if both "
			    "together are all the holes of that side.",
			    "Holes of one side: from the middle of the head and of the throat "
			    "outward, they meet half-way."},
	[ASK_HOLES_THROAT] =
		{"holes", "throat", SHAPE_WORD, NULL, "Holes of one side at the throat",
		 "Count from the middle of the throat outward, up to where the holes of "
		 "the head end.",
		 NULL},
	[ASK_BRIDGE] = {NULL, "bridge", SHAPE_WORD, NULL,
			"Holes in the bridge, both sides together",
			"The bridge closes the hoop at the throat. 0 for a frame without one.",
			"Throat holes in the bridge, both sides together: they say where the mains "
			"start."},
	[ASK_SKIP] = {NULL, "mains_skip", SHAPE_HOLES, "none", "Holes the mains pass over",
		      "Left for a cross, such as: 7H 9H 7T 9T. H counts at the head, T at the "
		      "throat.",
		      "Holes the mains pass over, holes with a main and a cross, holes with "
		      "nothing."},
	[ASK_SHARED] = {NULL, "shared", SHAPE_HOLES, "none",
			"Holes with a main and a cross in them", "Such as: 8H 8T.", NULL},
	[ASK_UNUSED] = {NULL, "unused", SHAPE_HOLES, "none", "Holes that stay empty",
			"Such as: 12H.", NULL},
	[ASK_CROSSES_START] = {NULL, "crosses_start", SHAPE_WORD, "head",
			       "End where the crosses start", "head or throat, as the maker says.",
			       NULL},
	[ASK_TIE_MAINS] =
		{"tie_off", "mains", SHAPE_SIDES, "", "Tie-off hole of the mains",
		 "Such as 8T, or left and right where they differ: 8T 6T. Left out, a hole "
		 "is suggested.",
		 "Where the knots go; a hole is suggested for what is left out."},
	[ASK_TIE_CROSS_START] = {"tie_off", "cross_start", SHAPE_SIDES, "",
				 "Hole of the crosses' starting knot",
				 "Such as 8H, or left and right where they differ: 8H 6H.", NULL},
	[ASK_TIE_CROSS_END] = {"tie_off", "cross_end", SHAPE_SIDES, "",
			       "Tie-off hole where the crosses end",
			       "Such as 6T, or left and right where they differ: 6T 8T.", NULL},
	[ASK_LENGTH] =
		{"head", "length", SHAPE_WORD, "", "Length of the head inside",
		 "Such as 330 mm. It is for the lengths to cut and the picture; leave it out "
		 "if you cannot measure it.",
		 "The inside of the hoop, for the lengths to cut and the picture."},
	[ASK_WIDTH] = {"head", "width", SHAPE_WORD, NULL, "Width of the head inside",
		       "Such as 247 mm.", NULL},
	[ASK_AREA] = {"head", "area", SHAPE_WORD, "", "Strung area",
		      "Such as 640 cm2 or 99 in2, if the frame says it.", NULL},
	[ASK_BEAM] = {"head", "beam", SHAPE_WORD, "",
		      "Thickness of the frame in the plane of the strings", "Such as 12 mm.", NULL},
	[ASK_SPACING_MAINS] = {"spacing", "mains", SHAPE_EACH, "", "Distance between mains",
			       "Such as 13 mm; or each, with commas: between the two centre mains "
			       "first, then outward on one side.",
			       "Between neighbouring strings: one for all, or a list of each."},
	[ASK_SPACING_CROSSES] = {"spacing", "crosses", SHAPE_EACH, "", "Distance between crosses",
				 "Such as 16 mm; or each, with commas, from the head.", NULL},
	[ASK_TENSION_MIN] = {"tension", "min", SHAPE_WORD, "", "The maker's least tension",
			     "Such as 22 kg or 48 lb, as printed on the frame.",
			     "The maker's range, as printed on the frame."},
	[ASK_TENSION_MAX] = {"tension", "max", SHAPE_WORD, NULL, "The maker's greatest tension",
			     "Such as 28 kg or 62 lb.", NULL},
};

const char *question_text(enum question question)
{
	return questions[question].ask;
}

const char *question_help(enum question question)
{
	return questions[question].help;
}

const char *question_default(enum question question)
{
	return questions[question].standard;
}

bool question_applies(enum question question, const struct form *form)
{
	switch (question) {
	case ASK_WIDTH:
	case ASK_AREA:
	case ASK_BEAM:
	case ASK_SPACING_MAINS:
	case ASK_SPACING_CROSSES:
		return form->answer[ASK_LENGTH][0] != '\0';
	case ASK_TENSION_MAX:
		return form->answer[ASK_TENSION_MIN][0] != '\0';
	default:
		return true;
	}
}

/* ---- the file ---- */

static void add_title(struct text *out, const char *answer)
{
	text_add_char(out, '"');
	for (; *answer; answer++) {
		if (*answer == '"' || *answer == '\\')
			text_add_char(out, '\\');
		text_add_char(out, *answer);
	}
	text_add_char(out, '"');
}

/* Labels may be typed small and with or without commas: 7h, 9h. */
static void add_labels(struct text *out, const char *answer, const char *before,
		       const char *between)
{
	const char *at = answer;

	for (at += strspn(at, ", "); *at; at += strspn(at, ", ")) {
		text_add(out, before);
		for (; *at && *at != ',' && *at != ' '; at++)
			text_add_char(out, (char)toupper((unsigned char)*at));
		before = between;
	}
}

static void add_value(struct text *out, enum shape shape, const char *answer)
{
	bool none = strcmp(answer, "none") == 0;

	switch (shape) {
	case SHAPE_TITLE:
		add_title(out, answer);
		break;
	case SHAPE_HOLES:
		text_add_char(out, '[');
		add_labels(out, none ? "" : answer, "", ", ");
		text_add_char(out, ']');
		break;
	case SHAPE_SIDES:
		if (!strpbrk(answer, ", ")) {
			add_labels(out, answer, "", "");
			break;
		}
		text_add(out, "{ ");
		add_labels(out, answer, "left: ", ", right: ");
		text_add(out, " }");
		break;
	case SHAPE_EACH:
		text_format(out, strchr(answer, ',') ? "[%s]" : "%s", answer);
		break;
	case SHAPE_WORD:
		text_add(out, answer);
		break;
	}
}

/* A map gets the comment of its first question, even if that one was left out. */
static const char *comment_of(enum question question)
{
	const char *parent = questions[question].parent;

	while (parent && question > 0 && questions[question - 1].parent &&
	       strcmp(questions[question - 1].parent, parent) == 0)
		question--;
	return questions[question].comment;
}

char *form_file(const struct form *form, enum question last)
{
	struct text out = {0};
	const char *open = ""; /* the map that lines are being added to */

	for (enum question q = 0; q <= last; q++) {
		const char *parent = questions[q].parent ? questions[q].parent : "";
		bool same_map = parent[0] && strcmp(parent, open) == 0;
		if (form->answer[q][0] == '\0' || !question_applies(q, form))
			continue;
		if (!same_map && comment_of(q))
			text_format(&out, "\n# %s\n", comment_of(q));
		if (!same_map && parent[0])
			text_format(&out, "%s:\n", parent);
		text_format(&out, "%s%s: ", parent[0] ? "  " : "", questions[q].key);
		add_value(&out, questions[q].shape, form->answer[q]);
		text_add_char(&out, '\n');
		open = parent;
	}
	return text_take(&out);
}

struct pattern *form_pattern(const struct form *form, enum question last, struct faults *faults)
{
	char *file = form_file(form, last);
	struct pattern *pattern = pattern_read_text("answers", file, faults);

	free(file);
	return pattern;
}

/* Only characters that cannot end a value or begin another. */
static char *strange_character(const struct form *form, enum question question)
{
	static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
				    "0123456789 .,+%-";
	const char *answer = form->answer[question];

	if (questions[question].shape == SHAPE_TITLE || strspn(answer, plain) == strlen(answer))
		return NULL;
	return memory_format("expected letters, digits and . , + - %% only");
}

char *form_fault(const struct form *form, enum question question)
{
	struct faults faults = {0};
	char *why = strange_character(form, question);

	if (why || form->answer[question][0] == '\0')
		return why;
	pattern_free(form_pattern(form, question, &faults));
	/* The answers before this one were good, so a fault is about this one; missing keys are
	 * still to be asked for. */
	for (size_t i = 0; i < faults.count && !why; i++)
		if (faults.items[i].severity == FAULT_ERROR &&
		    strcmp(faults.items[i].code, "key-missing") != 0)
			why = memory_copy(faults.items[i].text);
	faults_free(&faults);
	return why;
}
