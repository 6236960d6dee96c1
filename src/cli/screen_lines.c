#include "cli/cli.h"

#include "base/base.h"
#include "session/session.h"

#include <stdlib.h>
#include <string.h>

/* From so many rows on there is room for voice and pedal, and for blank lines. */
enum { ROWS_PARTS = 14, ROWS_ROOMY = 20, BAR_MAX = 40 };

/* What a picture of the screen is made of. */
struct picture {
	struct text *out;
	struct text line; /* being put together */
	int columns;
	bool blocks;
	const struct phrasebook *book;
};

/* Columns of text: each character is taken for one wide. */
static int plain_width(const char *text, int length)
{
	int width = 0;

	for (const char *at = text; at < text + length; width++)
		utf8_next(&at);
	return width;
}

/* Adds a text and ends the line; what is too long for it ends in an ellipsis. */
static void add_line(struct picture *picture, const char *text)
{
	const char *end = picture->blocks ? "…" : "...";
	int room = picture->columns;
	const char *at = text;

	if (plain_width(text, (int)strlen(text)) <= room) {
		text_add(picture->out, text);
	} else {
		for (room -= plain_width(end, (int)strlen(end)); room > 0; room--)
			utf8_next(&at);
		text_add_part(picture->out, text, (size_t)(at - text));
		text_add(picture->out, end);
	}
	text_add_char(picture->out, '\n');
}

static void end_line(struct picture *picture)
{
	add_line(picture, text_string(&picture->line));
	text_clear(&picture->line);
}

/* ---- words, broken into lines ---- */

typedef int measure(const char *text, int length);

/* The bytes of text that fit into `columns`, broken between words; 0 if the first word does not. */
static int fitting(const char *text, int columns, measure *width)
{
	int fits = 0;

	for (int end = 0;; end++) {
		if (text[end] != ' ' && text[end] != '\0')
			continue;
		if (width(text, end) > columns)
			return fits;
		fits = end;
		if (text[end] == '\0')
			return fits;
	}
}

static const char *after_line(const char *text, int bytes)
{
	return text + bytes + strspn(text + bytes, " ");
}

/* Returns the rows it takes; 0 if it does not fit. */
static int add_large(struct picture *picture, const char *text, int rows)
{
	int lines = 0, bytes = 0;

	for (const char *at = text; *at; at = after_line(at, bytes), lines++) {
		bytes = fitting(at, picture->columns, large_letters_width);
		if (bytes == 0)
			return 0;
	}
	bool spaced = lines * (LARGE_LETTER_ROWS + 1) <= rows;
	if (lines * LARGE_LETTER_ROWS > rows)
		return 0;
	for (const char *at = text; *at; at = after_line(at, bytes)) {
		bytes = fitting(at, picture->columns, large_letters_width);
		large_letters_add(picture->out, at, bytes);
		if (spaced)
			text_add_char(picture->out, '\n');
	}
	return lines * (LARGE_LETTER_ROWS + spaced);
}

/* A word longer than a line, or what does not fit, is cut, with an ellipsis. */
static int add_plain(struct picture *picture, const char *text, int rows)
{
	for (int used = 0;; used++) {
		int bytes = fitting(text, picture->columns, plain_width);
		if (!*text || used == rows)
			return used;
		if (bytes == 0 || (used + 1 == rows && text[bytes])) {
			add_line(picture, text);
			return used + 1;
		}
		text_add_part(picture->out, text, (size_t)bytes);
		text_add_char(picture->out, '\n');
		text = after_line(text, bytes);
	}
}

/* The words in exactly `rows` rows. */
static void add_words(struct picture *picture, const char *words, int rows)
{
	int used = picture->blocks ? add_large(picture, words, rows) : 0;

	if (used == 0)
		used = add_plain(picture, words, rows);
	for (; used < rows; used++)
		text_add_char(picture->out, '\n');
}

/* ---- the other lines ---- */

/* Adds two words behind what is in the line, if both fit. */
static void add_fitting(struct picture *picture, const char *key, const char *word)
{
	size_t before = picture->line.length;
	const char *gap = *key ? " " : "";

	text_format(&picture->line, "%s%s%s%s", before ? "  " : "", key, gap, word);
	if (plain_width(text_string(&picture->line), (int)picture->line.length) > picture->columns)
		text_cut(&picture->line, before);
}

static const char *shown(const struct picture *picture, const char *key)
{
	return phrasebook_shown(picture->book, key);
}

static const char *state_of(const struct session *session)
{
	switch (session->state) {
	case SESSION_PAUSED:
		return session->fresh ? "not_begun" : "paused";
	case SESSION_CHOOSING:
		return "choosing";
	case SESSION_STATION:
		return "station";
	case SESSION_ENDING:
		return "done";
	case SESSION_OVER:
		return "ended";
	default:
		return NULL;
	}
}

static void add_heading(struct picture *picture, const struct work *work)
{
	const struct session *session = &work->session;
	int call = session->call > session->calls ? session->calls : session->call;
	const struct script_line *line = script_line(work->script, call);
	const char *level = session_words_name(session), *state = state_of(session);

	text_format(&picture->line, "%s %d %s %d  %s", shown(picture, "call"), call,
		    shown(picture, "of"), session->calls, shown(picture, line->phase));
	if (state)
		text_format(&picture->line, "  %s", shown(picture, state));
	if (level)
		text_format(&picture->line, "  %s: %s", shown(picture, line->skill),
			    shown(picture, level));
	text_format(&picture->line, "  %s", work->script->job);
	end_line(picture);
}

static void add_bar(struct picture *picture, const char *name, int left, int all)
{
	int room = picture->columns - 22;
	int width = room > BAR_MAX ? BAR_MAX : room;
	int done = all - left;

	name = shown(picture, name);
	text_format(&picture->line, "%s%*s", name, 8 - plain_width(name, (int)strlen(name)), "");
	for (int i = 0; i < width; i++)
		text_add(&picture->line, i < done * width / all ? (picture->blocks ? "█" : "#")
								: (picture->blocks ? "░" : "."));
	text_format(&picture->line, " %2d %s %d", done, shown(picture, "of"), all);
	end_line(picture);
}

static void add_time(struct picture *picture, const char *name, int64_t us)
{
	long long seconds = (long long)(us / SECOND_US);

	text_format(&picture->line, "%s %lld:%02lld  ", shown(picture, name), seconds / 60,
		    seconds % 60);
}

/* The pace in words once there are calls enough to tell, but not for somebody's first job. */
static const char *pace_words(const struct work *work)
{
	double ratio = pace_ratio(&work->session);

	if (work->is_first || !pace_is_known(&work->session))
		return NULL;
	if (ratio < 0.9)
		return "faster";
	return ratio > 1.1 ? "slower" : "usual_pace";
}

static void add_times(struct picture *picture, const struct work *work, int64_t now_us)
{
	const struct session *session = &work->session;
	int64_t left_us = pace_left_us(session, now_us);
	const char *pace = pace_words(work);

	add_time(picture, "work", session_worked_us(session, now_us));
	add_time(picture, "this_call", session_spent_us(session, now_us));
	text_format(&picture->line, "%s %lld %s", shown(picture, "time_left"),
		    (long long)((left_us + 30 * SECOND_US) / SECOND_US / 60),
		    shown(picture, "minutes"));
	if (pace)
		add_fitting(picture, "", shown(picture, pace));
	end_line(picture);
}

static void add_parts(struct picture *picture, const struct daemon_look *look)
{
	if (*look->journal)
		text_format(&picture->line, "%s: %s", shown(picture, "not_saved"), look->journal);
	else if (!look->voice_good)
		text_format(&picture->line, "%s: %s", shown(picture, "no_voice"), look->voice);
	else
		text_format(&picture->line, "%s %s  %s %s", shown(picture, "voice"), look->voice,
			    shown(picture, "pedal"), look->pedal);
	end_line(picture);
}

static void add_next(struct picture *picture, const struct work *work)
{
	const struct session *session = &work->session;
	int next = session->fresh ? session->call : session->call + 1;

	if (next <= session->calls)
		text_format(&picture->line, "%s: %s", shown(picture, "next_call"),
			    work_next_words(work, next));
	end_line(picture);
}

struct key {
	const char *key;
	const char *does;
};

/* As many of the keys as the width has room for, the most important first. */
static void add_keys(struct picture *picture, const struct session *session)
{
	static const struct key choosing[] = {{"space", "next_choice"},
					      {"r", "take"},
					      {"b", "leave"},
					      {"?", "why"},
					      {"q", "stop"},
					      {0}};
	static const struct key paused[] = {
		{"space", "go_on"}, {"b", "back"},  {"c", "choices"}, {"q", "stop"},
		{"r", "again"},     {"w", "where"}, {"?", "why"},     {0}};
	static const struct key calling[] = {{"space", "next"}, {"r", "again"}, {"b", "back"},
					     {"p", "pause"},    {"q", "stop"},  {"c", "choices"},
					     {"w", "where"},    {"?", "why"},   {0}};
	const struct key *keys = calling;

	if (session->state == SESSION_CHOOSING)
		keys = choosing;
	else if (session->state == SESSION_PAUSED && !session->fresh)
		keys = paused;
	for (; keys->key; keys++)
		add_fitting(picture, shown(picture, keys->key), shown(picture, keys->does));
	end_line(picture);
}

static const char *words_of(const struct daemon_look *look)
{
	const struct session *session = &look->work->session;

	if (*look->said || session->call > session->calls)
		return look->said;
	return work_words(look->work);
}

void screen_lines(const struct daemon_look *look, int64_t now_us, const struct screen_size *size,
		  struct text *out)
{
	const struct work *work = look->work;
	struct picture picture = {.out = out,
				  .columns = size->columns,
				  .blocks = size->blocks,
				  .book = work ? work->book : NULL};
	bool roomy = size->rows >= ROWS_ROOMY;
	bool parts = size->rows >= ROWS_PARTS || *look->journal || !look->voice_good;

	if (!work) {
		add_line(&picture, look->said);
		return;
	}
	/* Heading, next, two bars, times, keys. */
	int others = 6 + parts + (roomy ? 3 : 0);
	int rows = size->rows > others ? size->rows - others : 1;
	struct script_left left = script_left(work->script, work->session.call);

	add_heading(&picture, work);
	if (roomy)
		text_add_char(out, '\n');
	add_words(&picture, words_of(look), rows);
	if (roomy)
		text_add_char(out, '\n');
	add_next(&picture, work);
	if (roomy)
		text_add_char(out, '\n');
	add_bar(&picture, "mains", left.mains, work->script->whole.mains);
	add_bar(&picture, "crosses", left.crosses, work->script->whole.crosses);
	add_times(&picture, work, now_us);
	if (parts)
		add_parts(&picture, look);
	add_keys(&picture, &work->session);
	text_free(&picture.line);
}
