/* pullcall pattern new: the questions about a frame, and what follows from the answers. */
#include "base/base.h"
#include "cli/cli.h"
#include "frame/frame.h"
#include "job/job.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

enum {
	ASK_NAME,
	ASK_TITLE,
	ASK_SPORT,
	ASK_MAINS,
	ASK_CROSSES,
	ASK_HOLES_HEAD,
	ASK_HOLES_THROAT,
	ASK_BRIDGE,
	ASK_SKIP,
	ASK_SHARED,
	ASK_UNUSED, /* after this one the hole map is known */
	ASK_CROSSES_START,
	ASK_TIE_MAINS,
	ASK_TIE_CROSS_START,
	ASK_TIE_CROSS_END,
	ASK_LENGTH,
	ASK_WIDTH,
	ASK_AREA,
	ASK_BEAM,
	ASK_SPACING_MAINS,
	ASK_SPACING_CROSSES,
	ASK_TENSION_MIN,
	ASK_TENSION_MAX,
	QUESTIONS,
};

static bool has_length(const struct form *form)
{
	return form->answer[ASK_LENGTH][0] != '\0';
}

static bool has_least_tension(const struct form *form)
{
	return form->answer[ASK_TENSION_MIN][0] != '\0';
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

/* "7H 9H" as [7H, 9H]. */
static void write_holes(struct text *out, const char *answer)
{
	text_add_char(out, '[');
	add_labels(out, strcmp(answer, "none") == 0 ? "" : answer, "", ", ");
	text_add_char(out, ']');
}

/* "8T" as it is, "8T 6T" as { left: 8T, right: 6T }. */
static void write_sides(struct text *out, const char *answer)
{
	bool differ = strpbrk(answer, ", ");

	text_add(out, differ ? "{ " : "");
	add_labels(out, answer, differ ? "left: " : "", ", right: ");
	text_add(out, differ ? " }" : "");
}

/* "13 mm" as it is, "12 mm, 13 mm" as [12 mm, 13 mm]. */
static void write_each(struct text *out, const char *answer)
{
	text_format(out, strchr(answer, ',') ? "[%s]" : "%s", answer);
}

static const struct question questions[QUESTIONS + 1] = {
	[ASK_NAME] = {"pattern", "Name of the pattern",
		      "Small letters, digits and hyphens: say what it is, such as "
		      "open-16x19. The file is named so, and job plans name it.",
		      NULL},
	[ASK_TITLE] = {"title", "Title",
		       "A line that people read, such as: Sixteen by nineteen, six "
		       "bridge holes.",
		       "", .write = form_write_text},
	[ASK_SPORT] = {"sport", "Sport", "tennis, badminton, squash or racquetball.", "tennis"},
	[ASK_MAINS] = {"mains", "Number of mains", "The lengthwise strings, both sides together.",
		       NULL, .comment = "Lengthwise and widthwise strings, both sides together."},
	[ASK_CROSSES] = {"crosses", "Number of crosses", "The widthwise strings.", NULL},
	[ASK_HOLES_HEAD] = {"holes/head", "Holes of one side at the head",
			    "Count from the middle of the head outward, down to half-way "
			    "along the side; where head ends and throat begins is yours "
			    "to choose, if both together are all the holes of that side.",
			    NULL,
			    .comment = "Holes of one side: from the middle of the head and of the "
				       "throat outward, they meet half-way."},
	[ASK_HOLES_THROAT] = {"holes/throat", "Holes of one side at the throat",
			      "Count from the middle of the throat outward, up to where the "
			      "holes of the head end.",
			      NULL},
	[ASK_BRIDGE] = {"bridge", "Holes in the bridge, both sides together",
			"The bridge closes the hoop at the throat. 0 for a frame "
			"without one.",
			NULL,
			.comment = "Throat holes in the bridge, both sides together: they say "
				   "where the mains start."},
	[ASK_SKIP] = {"mains_skip", "Holes the mains pass over",
		      "Left for a cross, such as: 7H 9H 7T 9T. H counts at the "
		      "head, T at the throat.",
		      "none",
		      .comment = "Holes the mains pass over, holes with a main and a cross, "
				 "holes with nothing.",
		      .write = write_holes},
	[ASK_SHARED] = {"shared", "Holes with a main and a cross in them", "Such as: 8H 8T.",
			"none", .write = write_holes},
	[ASK_UNUSED] = {"unused", "Holes that stay empty", "Such as: 12H.", "none",
			.write = write_holes},
	[ASK_CROSSES_START] = {"crosses_start", "End where the crosses start",
			       "head or throat, as the maker says.", "head"},
	[ASK_TIE_MAINS] = {"tie_off/mains", "Tie-off hole of the mains",
			   "Such as 8T, or left and right where they differ: 8T 6T. Left "
			   "out, a hole is suggested.",
			   "",
			   .comment =
				   "Where the knots go; a hole is suggested for what is left out.",
			   .write = write_sides},
	[ASK_TIE_CROSS_START] = {"tie_off/cross_start", "Hole of the crosses' starting knot",
				 "Such as 8H, or left and right where they differ: 8H 6H.", "",
				 .write = write_sides},
	[ASK_TIE_CROSS_END] = {"tie_off/cross_end", "Tie-off hole where the crosses end",
			       "Such as 6T, or left and right where they differ: 6T 8T.", "",
			       .write = write_sides},
	[ASK_LENGTH] = {"head/length", "Length of the head inside",
			"Such as 330 mm. It is for the lengths to cut and the "
			"picture; leave it out if you cannot measure it.",
			"",
			.comment =
				"The inside of the hoop, for the lengths to cut and the picture."},
	[ASK_WIDTH] = {"head/width", "Width of the head inside", "Such as 247 mm.", NULL,
		       .applies = has_length},
	[ASK_AREA] = {"head/area", "Strung area",
		      "Such as 640 cm2 or 99 in2, if the frame says it.", "",
		      .applies = has_length},
	[ASK_BEAM] = {"head/beam", "Thickness of the frame in the plane of the strings",
		      "Such as 12 mm.", "", .applies = has_length},
	[ASK_SPACING_MAINS] =
		{"spacing/mains", "Distance between mains",
		 "Such as 13 mm; or each, with commas: between the two centre "
		 "mains first, then outward on one side.",
		 "", .comment = "Between neighbouring strings: one for all, or a list of each.",
		 .write = write_each, .applies = has_length},
	[ASK_SPACING_CROSSES] = {"spacing/crosses", "Distance between crosses",
				 "Such as 16 mm; or each, with commas, from the head.", "",
				 .write = write_each, .applies = has_length},
	[ASK_TENSION_MIN] = {"tension/min", "The maker's least tension",
			     "Such as 22 kg or 48 lb, as printed on the frame.", "",
			     .comment = "The maker's range, as printed on the frame."},
	[ASK_TENSION_MAX] = {"tension/max", "The maker's greatest tension",
			     "Such as 28 kg or 62 lb.", NULL, .applies = has_least_tension},
	{0},
};

/* ---- what follows from the answers ---- */

static void show_holes(FILE *show, const struct pattern *pattern)
{
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct hole holes[MAINS_MAX / 2];
		int half = pattern_half(pattern);
		for (int k = 1; k <= half; k++)
			holes[k - 1] = pattern_main_hole(pattern, end, k);
		char *list = hole_list(holes, half);
		fprintf(show, "  mains at the %-7s %s\n", end_names[end], list);
		free(list);
	}
	char *list = hole_list(pattern->cross_hole + 1, pattern->crosses);
	fprintf(show, "  crosses from the head %s\n", list);
	free(list);
}

static void show_facts(FILE *show, const struct pattern *pattern)
{
	enum frame_end start = pattern_mains_start(pattern);

	fprintf(show, "\n%d mains and %d crosses, the same on both sides:\n", pattern->mains,
		pattern->crosses);
	show_holes(show, pattern);
	fprintf(show, "  the mains start at the %s and end at the %s\n\n", end_names[start],
		end_names[pattern_main_end(start, pattern_half(pattern))]);
}

static void show_lengths(const struct form *form, const struct pattern *pattern)
{
	const struct machine *machine = form->context;
	struct length_allowance allowance = LENGTH_ALLOWANCE_DEFAULT;
	struct bed bed;

	allowance.reach_mm = machine->reach_mm;
	allowance.margin_mm = machine->margin_mm;
	if (!bed_of_pattern(pattern, &bed))
		return;
	fprintf(form->show,
		"\nString, an estimate: mains %.1f m, crosses %.1f m, with %g mm at each end to "
		"grip.\n",
		length_of_mains_mm(&bed, &allowance) / 1000,
		length_of_crosses_mm(&bed, &allowance) / 1000, allowance.reach_mm);
}

/* The pattern of the answers so far, and of `rest`; NULL with what is wrong told. */
static struct pattern *pattern_so_far(struct form *form, int last, const char *rest)
{
	struct faults faults = {0};
	char *answers = form_file(form, last);
	char *file = memory_format("%s%s", answers, rest);
	struct pattern *pattern = pattern_read_text("answers", file, &faults);

	form_report(form, &faults);
	faults_free(&faults);
	free(answers);
	free(file);
	return pattern;
}

/* Shows the hole map. If the counts do not add up, or not to this frame, goes back to them. */
static int after_holes(struct form *form)
{
	struct pattern *pattern = pattern_so_far(form, ASK_UNUSED, "crosses_start: head\n");

	if (pattern)
		show_facts(form->show, pattern);
	pattern_free(pattern);
	if (!form->person)
		return pattern ? ASK_UNUSED + 1 : FORM_END;
	if (!pattern) {
		form_show(form, 2,
			  "The counts again, please: an empty answer keeps the value in [ ].");
		return ASK_MAINS;
	}
	switch (form_confirm(form, "Is this how the frame is drilled?",
			     "Compare the lists above with the holes of the frame, side by side. "
			     "yes (or y) goes on, no (or n) asks for the counts again, back asks "
			     "the last question again.")) {
	case REPLY_YES:
		return ASK_UNUSED + 1;
	case REPLY_NO:
		return ASK_MAINS;
	case REPLY_BACK:
		return ASK_UNUSED;
	case REPLY_END:
		break;
	}
	return FORM_END;
}

static int after(struct form *form, int n)
{
	if (n == ASK_UNUSED)
		return after_holes(form);
	if (n == ASK_TENSION_MAX) {
		struct pattern *pattern = pattern_so_far(form, n, "");
		if (pattern)
			show_lengths(form, pattern);
		pattern_free(pattern);
	}
	return n + 1;
}

static bool read_pattern(const char *file, struct faults *faults)
{
	struct pattern *pattern = pattern_read_text("answers", file, faults);

	pattern_free(pattern);
	return pattern;
}

/* A pattern that job plans find, or a file that would be overwritten. */
static bool is_taken(const char *name)
{
	char *looked = NULL;
	char *path = path_find(PATH_PATTERNS, name, "./", &looked);

	bool taken = path;
	free(looked);
	free(path);
	return taken;
}

void pattern_form(struct form *form, const struct machine *machine)
{
	*form = (struct form){
		.what = "pattern",
		.about = "Questions about the frame in your hand.",
		.comment = "Written from answers given with the frame in hand.",
		.questions = questions,
		.read = read_pattern,
		.is_taken = is_taken,
		.after = after,
		.context = machine,
	};
}
