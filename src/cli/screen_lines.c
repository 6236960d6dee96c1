#include "cli/cli.h"

#include "base/base.h"
#include "session/session.h"

#include <stdlib.h>
#include <string.h>

/* From here on there is room for blank lines and the keys. */
enum { ROWS_ROOMY = 20, ROWS_KEYS = 14, BAR_MAX = 40 };

/* Bytes that a character takes, from its first byte; the words are UTF-8 and a column a character
 * wide. */
static size_t character_bytes(const char *at)
{
	size_t bytes = 1;

	while ((at[bytes] & 0xc0) == 0x80)
		bytes++;
	return bytes;
}

static int width_of(const char *text, size_t bytes)
{
	int width = 0;

	for (size_t i = 0; i < bytes; i += character_bytes(text + i))
		width++;
	return width;
}

/* Adds text, cut at `columns`, and ends the line. */
static void add_line(struct text *out, const char *text, int columns)
{
	size_t bytes = 0;

	for (int column = 0; column < columns && text[bytes]; column++)
		bytes += character_bytes(text + bytes);
	text_add_part(out, text, bytes);
	text_add_char(out, '\n');
}

static void add_formatted(struct text *out, struct text *line, int columns)
{
	add_line(out, text_string(line), columns);
	text_clear(line);
}

/* ---- words, broken into lines ---- */

typedef int measure(const char *text, int length);

static int plain_width(const char *text, int length)
{
	return width_of(text, (size_t)length);
}

/* The bytes of text that fit into `columns`, broken between words; at least one word. -1 if the
 * measure cannot tell. */
static int fitting(const char *text, int columns, measure *width)
{
	int fits = 0;

	for (int end = 0;; end++) {
		if (text[end] != ' ' && text[end] != '\0')
			continue;
		int columns_needed = width(text, end);
		if (columns_needed < 0)
			return -1;
		if (columns_needed > columns)
			return fits;
		fits = end;
		if (text[end] == '\0')
			return fits;
	}
}

/* Lines that text takes, or -1 if it does not go in at all. */
static int count_lines(const char *text, int columns, measure *width)
{
	int lines = 0;

	while (*text) {
		int bytes = fitting(text, columns, width);
		if (bytes <= 0)
			return -1;
		text += bytes;
		text += strspn(text, " ");
		lines++;
	}
	return lines;
}

static int add_large(struct text *out, const char *text, int columns, int rows)
{
	int lines = count_lines(text, columns, large_letters_width);

	if (lines < 0 || lines * LARGE_LETTER_ROWS > rows)
		return 0;
	bool spaced = lines * (LARGE_LETTER_ROWS + 1) <= rows;
	while (*text) {
		int bytes = fitting(text, columns, large_letters_width);
		large_letters_add(out, text, bytes);
		if (spaced)
			text_add_char(out, '\n');
		text += bytes;
		text += strspn(text, " ");
	}
	return lines * (LARGE_LETTER_ROWS + spaced);
}

static int add_plain(struct text *out, const char *text, int columns, int rows)
{
	int used = 0;

	while (*text && used < rows) {
		int bytes = fitting(text, columns, plain_width);
		if (bytes <= 0) { /* a word longer than the line */
			add_line(out, text, columns);
			return used + 1;
		}
		text_add_part(out, text, (size_t)bytes);
		text_add_char(out, '\n');
		text += bytes;
		text += strspn(text, " ");
		used++;
	}
	return used;
}

/* The words in exactly `rows` rows. */
static void add_words(struct text *out, const char *words, const struct screen_size *size, int rows)
{
	int used = size->blocks ? add_large(out, words, size->columns, rows) : 0;

	if (used == 0)
		used = add_plain(out, words, size->columns, rows);
	for (; used < rows; used++)
		text_add_char(out, '\n');
}

/* ---- the other lines ---- */

static void add_time(struct text *line, const char *name, int64_t us)
{
	long long seconds = (long long)(us / SECOND_US);

	text_format(line, "%s %lld:%02lld", name, seconds / 60, seconds % 60);
}

static const char *state_of(const struct session *session)
{
	switch (session->state) {
	case SESSION_PAUSED:
		return session->fresh ? "  READY" : "  PAUSED";
	case SESSION_ENDING:
		return "  DONE";
	case SESSION_OVER:
		return "  ENDED";
	default:
		return "";
	}
}

static void add_heading(struct text *out, const struct work *work, int columns)
{
	const struct session *session = &work->session;
	int call = session->call > session->calls ? session->calls : session->call;
	struct text line = {0};

	text_format(&line, "call %d of %d  %s%s  %s", call, session->calls,
		    script_line(work->script, call)->phase, state_of(session), work->script->job);
	add_formatted(out, &line, columns);
	text_free(&line);
}

static void add_bar(struct text *out, const char *name, int left, int all,
		    const struct screen_size *size)
{
	int room = size->columns - 22;
	int width = room > BAR_MAX ? BAR_MAX : room;
	int done = all - left;
	struct text line = {0};

	text_format(&line, "%-8s", name);
	for (int i = 0; i < width; i++)
		text_add(&line, i < done * width / all ? (size->blocks ? "█" : "#")
						       : (size->blocks ? "░" : "."));
	text_format(&line, " %2d of %d", done, all);
	add_formatted(out, &line, size->columns);
	text_free(&line);
}

static void add_times(struct text *out, const struct work *work, int64_t now_us, int columns)
{
	const struct session *session = &work->session;
	struct text line = {0};
	int64_t left_us = work_left_us(work, now_us);

	add_time(&line, "work", session_worked_us(session, now_us));
	add_time(&line, "  this call", session_spent_us(session, now_us));
	text_format(&line, "  left %lld min",
		    (long long)((left_us + 30 * SECOND_US) / SECOND_US / 60));
	text_format(&line, "  pace %.1f", pace_ratio(session, work->script));
	add_formatted(out, &line, columns);
	text_free(&line);
}

static void add_parts(struct text *out, const struct daemon_look *look, int columns)
{
	struct text line = {0};

	if (*look->journal)
		text_format(&line, "TIMES ARE NOT BEING SAVED: %s", look->journal);
	else if (!look->voice_good)
		text_format(&line, "NO VOICE: %s", look->voice);
	else
		text_format(&line, "voice %s  pedal %s", look->voice, look->pedal);
	add_formatted(out, &line, columns);
	text_free(&line);
}

static void add_next(struct text *out, const struct work *work, int columns)
{
	const struct session *session = &work->session;
	int next = session->fresh ? session->call : session->call + 1;
	struct text line = {0};

	if (next <= session->calls)
		text_format(&line, "next: %s", script_words(work->script, next));
	add_formatted(out, &line, columns);
	text_free(&line);
}

static const char *words_of(const struct daemon_look *look)
{
	const struct session *session = &look->work->session;

	if (*look->said || session->call > session->calls)
		return look->said;
	return script_words(look->work->script, session->call);
}

void screen_lines(const struct daemon_look *look, int64_t now_us, const struct screen_size *size,
		  struct text *out)
{
	const struct work *work = look->work;
	bool roomy = size->rows >= ROWS_ROOMY;
	bool keys = size->rows >= ROWS_KEYS;

	if (!work) {
		add_line(out, look->said, size->columns);
		return;
	}
	/* What the lines below the words take: next, two bars, times, parts. */
	int others = 1 + 5 + (roomy ? 3 : 0) + (keys ? 1 : 0);
	int rows = size->rows > others ? size->rows - others : 1;
	struct script_left left = work_strings_left(work);

	add_heading(out, work, size->columns);
	if (roomy)
		text_add_char(out, '\n');
	add_words(out, words_of(look), size, rows);
	if (roomy)
		text_add_char(out, '\n');
	add_next(out, work, size->columns);
	if (roomy)
		text_add_char(out, '\n');
	add_bar(out, "mains", left.mains, work->script->whole.mains, size);
	add_bar(out, "crosses", left.crosses, work->script->whole.crosses, size);
	add_times(out, work, now_us, size->columns);
	add_parts(out, look, size->columns);
	if (keys)
		add_line(out, "space next  r again  b back  p pause  w where  q stop",
			 size->columns);
}
