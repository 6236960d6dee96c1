/* What the screen of `pullcall run` shows, as lines of text: the words of the call in large letters
 * if there is room for them, and what is above and below them. */
#include "cli/cli.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* ---- large letters ---- */

/* A letter has six rows of dots, the first for its accent: three rows of half blocks. */
enum { LARGE_LETTER_ROWS = 3, GAP = 1 };

/* The rows of a letter in either case, each of *width and a separator; NULL if there is none. */
static const char *find_rows(uint32_t point, size_t *width)
{
	if (point < 0x80)
		point = (uint32_t)toupper((int)point);
	else if (point >= 0xe0 && point <= 0xfe && point != 0xf7)
		point -= 0x20;
	for (const char *line = large_letters_txt; *line; line += strspn(line, "\n")) {
		const char *at = line;
		if (utf8_next(&at) == point && *at == ' ' && *line != '#') {
			*width = strcspn(at + 1, " ");
			return at + 1;
		}
		line += strcspn(line, "\n");
	}
	*width = 1;
	return NULL;
}

/* Columns of `length` bytes of text. */
static int large_letters_width(const char *text, size_t length)
{
	int columns = 0;

	for (const char *at = text; at < text + length;) {
		size_t width;
		find_rows(utf8_next(&at), &width);
		columns += (int)width + GAP;
	}
	return columns > 0 ? columns - GAP : 0;
}

static void add_row(struct text *out, const char *upper, size_t width)
{
	static const char *const blocks[] = {" ", "▄", "▀", "█"};
	const char *lower = upper + width + 1;

	for (size_t column = 0; column < width; column++)
		text_add(out, blocks[2 * (upper[column] == 'X') + (lower[column] == 'X')]);
}

static void large_letters_add(struct text *out, const char *text, int length)
{
	for (int row = 0; row < LARGE_LETTER_ROWS; row++) {
		for (const char *at = text; at < text + length;) {
			const char *character = at;
			size_t width;
			const char *rows = find_rows(utf8_next(&at), &width);
			if (rows)
				add_row(out, rows + (size_t)row * 2 * (width + 1), width);
			else if (row == LARGE_LETTER_ROWS - 1) /* as it is, on the line */
				text_add_part(out, character, (size_t)(at - character));
			else
				text_add_char(out, ' ');
			if (at < text + length)
				text_add_char(out, ' ');
		}
		text_add_char(out, '\n');
	}
}

/* ---- lines ---- */

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

/* Adds a text and ends the line; what is too long for it ends in an ellipsis. */
static void add_line(struct picture *picture, const char *text)
{
	const char *end = picture->blocks ? "…" : "...";
	int room = picture->columns;
	const char *at = text;

	if (text_columns(text, strlen(text)) <= room) {
		text_add(picture->out, text);
	} else {
		for (room -= text_columns(end, strlen(end)); room > 0; room--)
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

typedef int measure(const char *text, size_t length);

/* The bytes of text that fit into `columns`, broken between words; 0 if the first word does not. */
static int fitting(const char *text, int columns, measure *width)
{
	int fits = 0;

	for (int end = 0;; end++) {
		if (text[end] != ' ' && text[end] != '\0')
			continue;
		if (width(text, (size_t)end) > columns)
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
		int bytes = fitting(text, picture->columns, text_columns);
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
	if (text_columns(text_string(&picture->line), picture->line.length) > picture->columns)
		text_cut(&picture->line, before);
}

static const char *shown(const struct picture *picture, const char *key)
{
	return phrasebook_shown(picture->book, key);
}

/* NULL: nothing need be said of it. */
static const char *state_of(const struct session *session)
{
	static const char *const names[] = {
		[SESSION_PAUSED] = "paused",   [SESSION_CHOOSING] = "choosing",
		[SESSION_STATION] = "station", [SESSION_ENDING] = "done",
		[SESSION_OVER] = "ended",      [SESSION_CALLING] = NULL,
	};

	return session->state == SESSION_PAUSED && session->fresh ? "not_begun"
								  : names[session->state];
}

static void add_heading(struct picture *picture, const struct work *work)
{
	const struct session *session = &work->session;
	int call = session->call > session->calls ? session->calls : session->call;
	const struct script_line *line = script_line(work->script, call);
	const char *level = session_words_name(session), *state = state_of(session);
	char *name = script_label(work->script->job, work->script->racket, work->script->customer);

	text_format(&picture->line, "%s %d %s %d  %s", shown(picture, "call"), call,
		    shown(picture, "of"), session->calls, shown(picture, line->phase));
	if (state)
		text_format(&picture->line, "  %s", shown(picture, state));
	if (level && strcmp(line->skill, line->phase) == 0)
		text_format(&picture->line, "  %s", shown(picture, level));
	else if (level)
		text_format(&picture->line, "  %s: %s", shown(picture, line->skill),
			    shown(picture, level));
	text_format(&picture->line, "  %s", name);
	free(name);
	end_line(picture);
}

/* Both bars begin behind the longer of their names. */
static int bar_column(const struct picture *picture)
{
	const int least = 8;
	const char *mains = shown(picture, "mains"), *crosses = shown(picture, "crosses");
	int one = text_columns(mains, strlen(mains)),
	    other = text_columns(crosses, strlen(crosses));

	int longest = one > other ? one : other;

	return longest < least ? least : longest + 1;
}

static void add_bar(struct picture *picture, const char *name, int left, int all)
{
	int column = bar_column(picture), room = picture->columns - column - 14;
	int width = room > BAR_MAX ? BAR_MAX : room;
	int done = all - left;

	name = shown(picture, name);
	text_format(&picture->line, "%s%*s", name, column - text_columns(name, strlen(name)), "");
	for (int i = 0; i < width; i++)
		text_add(&picture->line, i < done * width / all ? (picture->blocks ? "█" : "#")
								: (picture->blocks ? "░" : "."));
	text_format(&picture->line, " %2d %s %d", done, shown(picture, "of"), all);
	end_line(picture);
}

static void add_time(struct picture *picture, const char *name, int64_t us)
{
	long long seconds = (long long)(us / SECOND_US);
	char *time = memory_format("%lld:%02lld", seconds / 60, seconds % 60);

	add_fitting(picture, shown(picture, name), time);
	free(time);
}

/* NULL: it is not known. */
static const char *pace_words(const struct work *work)
{
	double ratio = work_pace(work);

	if (ratio == 0)
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

	long long minutes = (left_us + 60 * SECOND_US - 1) / (60 * SECOND_US); /* as it is said */
	char *left = memory_format("%lld %s", minutes, shown(picture, "minutes"));

	add_fitting(picture, shown(picture, "time_left"), left);
	add_time(picture, "work", session_worked_us(session, now_us));
	add_time(picture, "this_call", session_spent_us(session, now_us));
	free(left);
	if (pace)
		add_fitting(picture, "", shown(picture, pace));
	end_line(picture);
}

/* What was told when the job was begun, on at most a third of the screen, or where voice and
 * presses are; a fault in any case. */
static void add_parts(struct picture *picture, const struct daemon_look *look, int rows)
{
	bool fault = *look->journal || !look->voice_good;

	if (look->told)
		add_plain(picture, look->told, rows / 3);
	if (!fault && (look->told || rows < ROWS_PARTS))
		return;
	if (*look->journal)
		text_format(&picture->line, "%s: %s", shown(picture, "not_saved"), look->journal);
	else if (!look->voice_good)
		text_format(&picture->line, "%s: %s", shown(picture, "no_voice"), look->voice);
	else
		text_format(&picture->line, "%s %s  %s %s", shown(picture, "voice"),
			    shown(picture, look->voice), shown(picture, "pedal"),
			    shown(picture, look->pedal));
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

static const struct key idle[] = {
	{"space", "next"}, {"p", "pass_over"}, {"r", "again"}, {"q", "stop"}, {0}};
static const struct key offered[] = {
	{"space", "take"}, {"p", "pass_over"}, {"r", "again"}, {"q", "stop"}, {0}};

/* The most important first. */
static const struct key *keys_of(const struct session *session)
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

	if (session->state == SESSION_CHOOSING)
		return choosing;
	return session->state == SESSION_PAUSED && !session->fresh ? paused : calling;
}

/* As many of them as the width has room for. */
static void add_keys(struct picture *picture, const struct key *keys)
{
	for (; keys->key; keys++)
		add_fitting(picture, shown(picture, keys->key), shown(picture, keys->does));
	end_line(picture);
}

/* The caller frees it. */
static char *words_of(const struct daemon_look *look)
{
	const struct work *work = look->work;

	if (work && *look->said && look->said_beside)
		return memory_format("%s %s", work_words(work), look->said);
	return memory_copy(!work || *look->said || work->session.call > work->session.calls
				   ? look->said
				   : work_words(work));
}

static void add_blank(struct picture *picture, const struct screen_size *size)
{
	if (size->rows >= ROWS_ROOMY)
		text_add_char(picture->out, '\n');
}

/* What is below the words of the call. */
static void add_below(struct picture *picture, const struct daemon_look *look, int64_t now_us,
		      const struct screen_size *size)
{
	const struct work *work = look->work;
	struct script_left left = script_left(work->script, work->session.call);

	add_blank(picture, size);
	add_next(picture, work);
	add_blank(picture, size);
	add_bar(picture, "mains", left.mains, work->script->whole.mains);
	add_bar(picture, "crosses", left.crosses, work->script->whole.crosses);
	add_times(picture, work, now_us);
	add_parts(picture, look, size->rows);
	add_keys(picture, keys_of(&work->session));
}

static int count_rows(const struct text *text)
{
	int rows = 0;

	for (size_t i = 0; i < text->length; i++)
		rows += text->bytes[i] == '\n';
	return rows;
}

void screen_lines(const struct daemon_look *look, int64_t now_us, const struct screen_size *size,
		  struct text *out)
{
	struct text below = {0};
	struct picture picture = {.out = &below,
				  .columns = size->columns,
				  .blocks = size->blocks,
				  .book = look->book};

	if (look->work)
		add_below(&picture, look, now_us, size);
	else
		add_keys(&picture, look->offered ? offered : idle);
	picture.out = out;
	if (look->work) {
		add_heading(&picture, look->work);
		add_blank(&picture, size);
	} else if (look->told) {
		add_plain(&picture, look->told, size->rows / 3);
	}
	int rows = size->rows - count_rows(out) - count_rows(&below);
	char *words = words_of(look);
	add_words(&picture, words, rows > 1 ? rows : 1);
	free(words);
	text_add(out, text_string(&below));
	text_free(&below);
	text_free(&picture.line);
}
