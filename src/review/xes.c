#include "review/internal.h"

#include "base/base.h"

#include <string.h>

const char xes_sql[] =
	"SELECT j.name, j.uuid, j.stringer, j.pattern, j.method, j.calls, e.kind, e.call, e.working, "
	"strftime('%Y-%m-%dT%H:%M:%f+00:00', e.wall_us / 1000000.0, 'unixepoch'), e.seq, "
	"e.response_us, e.detail, c.phase, c.kind, c.string, c.number, c.side, c.text "
	"FROM job AS j JOIN event AS e ON e.job = j.id "
	"LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call "
	"WHERE j.id = ?1 AND e.job = ?1 ORDER BY e.seq";

enum {
	NAME,
	UUID,
	STRINGER,
	PATTERN,
	METHOD,
	CALLS,
	KIND,
	CALL,
	WORKING,
	TIME,
	SEQ,
	RESPONSE,
	DETAIL,
	PHASE,
	CALL_KIND,
	STRING,
	NUMBER,
	SIDE,
	TEXT,
};

/* The call that has started but is not complete. */
struct activity {
	int call; /* 0: none */
	bool suspended;
	struct text attributes; /* XML that each of its events repeats */
};

static void add_string(struct text *xml, const char *key, const char *value)
{
	if (!value)
		return;
	text_format(xml, "<string key=\"%s\" value=\"", key);
	xml_add(xml, value);
	text_add(xml, "\"/>");
}

static const char *column(sqlite3_stmt *row, int index)
{
	return (const char *)sqlite3_column_text(row, index);
}

/* "weave cross", "inspect": without the number of the string, so that the same work on every string
 * is one activity. */
static void add_activity_name(struct text *xml, sqlite3_stmt *row)
{
	struct text name = {0};
	const char *string = column(row, STRING);

	text_add(&name, column(row, CALL_KIND));
	if (string)
		text_format(&name, " %s", string);
	add_string(xml, "concept:name", text_string(&name));
	text_free(&name);
}

static void begin_activity(struct activity *activity, sqlite3_stmt *row)
{
	struct text *xml = &activity->attributes;

	activity->call = sqlite3_column_int(row, CALL);
	activity->suspended = false;
	text_clear(xml);
	add_activity_name(xml, row);
	text_format(xml, "<string key=\"concept:instance\" value=\"%d\"/>", activity->call);
	add_string(xml, "org:resource", column(row, STRINGER));
	add_string(xml, "phase", column(row, PHASE));
	if (sqlite3_column_type(row, NUMBER) == SQLITE_INTEGER)
		text_format(xml, "<int key=\"number\" value=\"%d\"/>",
			    sqlite3_column_int(row, NUMBER));
	add_string(xml, "side", column(row, SIDE));
	add_string(xml, "words", column(row, TEXT));
}

static void write_event(const struct activity *activity, const char *transition, sqlite3_stmt *row,
			FILE *out)
{
	struct text xml = {0};

	text_format(&xml, "<event><date key=\"time:timestamp\" value=\"%s\"/>", column(row, TIME));
	add_string(&xml, "lifecycle:transition", transition);
	text_add(&xml, text_string(&activity->attributes));
	add_string(&xml, "journal", column(row, KIND));
	text_format(&xml, "<int key=\"seq\" value=\"%d\"/>", sqlite3_column_int(row, SEQ));
	add_string(&xml, "detail", column(row, DETAIL));
	text_add(&xml, "</event>\n");
	fwrite(xml.bytes, 1, xml.length, out);
	text_free(&xml);
}

static bool is_one_of(const char *word, const char *const *words)
{
	for (; *words; words++) {
		if (strcmp(word, *words) == 0)
			return true;
	}
	return false;
}

static const char *leaving(const char *kind)
{
	static const char *const done[] = {"next", "right", "finished", NULL};

	if (strcmp(kind, "abandoned") == 0)
		return "pi_abort";                               /* the whole job ends */
	return is_one_of(kind, done) ? "complete" : "ate_abort"; /* only this activity ends */
}

/* Writes the transitions of the standard lifecycle model that a journal event stands for. */
static void write_transitions(struct activity *activity, sqlite3_stmt *row, FILE *out)
{
	static const char *const ends[] = {"finished", "abandoned", NULL};
	static const char *const others[] = {"again",   "fault",  "mended", "answered", "wrong",
					     "station", "passed", "found",  NULL};
	const char *kind = column(row, KIND);
	int call = sqlite3_column_int(row, CALL);
	bool working = sqlite3_column_int(row, WORKING), ends_here = is_one_of(kind, ends);

	if (activity->call && (call != activity->call || ends_here)) {
		write_event(activity, leaving(kind), row, out);
		activity->call = 0;
	}
	if (!activity->call && !ends_here && column(row, CALL_KIND)) {
		begin_activity(activity, row);
		write_event(activity, "start", row, out);
	}
	if (activity->call && working == activity->suspended) {
		write_event(activity, working ? "resume" : "suspend", row, out);
		activity->suspended = !working;
	}
	if (activity->call && is_one_of(kind, others))
		write_event(activity, "unknown", row, out);
}

static void begin_trace(sqlite3_stmt *row, FILE *out)
{
	struct text xml = {0};

	text_add(&xml, "<trace>");
	add_string(&xml, "concept:name", column(row, NAME));
	text_format(&xml, "<id key=\"identity:id\" value=\"");
	xml_add(&xml, column(row, UUID));
	text_add(&xml, "\"/>");
	add_string(&xml, "stringer", column(row, STRINGER));
	add_string(&xml, "pattern", column(row, PATTERN));
	add_string(&xml, "method", column(row, METHOD));
	text_format(&xml, "<int key=\"calls\" value=\"%d\"/>\n", sqlite3_column_int(row, CALLS));
	fwrite(xml.bytes, 1, xml.length, out);
	text_free(&xml);
}

enum journal_status xes_trace(struct journal *journal, sqlite3_stmt *rows, FILE *out)
{
	struct activity activity = {0};
	enum journal_status status = JOURNAL_OK;
	bool row = false, begun = false;

	while ((status = journal_step(journal, rows, &row)) == JOURNAL_OK && row) {
		if (!begun)
			begin_trace(rows, out);
		begun = true;
		write_transitions(&activity, rows, out);
	}
	if (begun)
		fputs("</trace>\n", out);
	text_free(&activity.attributes);
	return status;
}

void xes_begin(FILE *out)
{
	static const char *const extensions[][2] = {
		{"Concept", "concept"},    {"Lifecycle", "lifecycle"}, {"Time", "time"},
		{"Organizational", "org"}, {"Identity", "identity"},
	};

	fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
	      "<log xes.version=\"1849.2016\" xes.features=\"\" "
	      "xmlns=\"http://www.xes-standard.org/\">\n",
	      out);
	for (size_t i = 0; i < sizeof extensions / sizeof extensions[0]; i++)
		fprintf(out,
			"<extension name=\"%s\" prefix=\"%s\" "
			"uri=\"http://www.xes-standard.org/%s.xesext\"/>\n",
			extensions[i][0], extensions[i][1], extensions[i][1]);
	fputs("<global scope=\"trace\"><string key=\"concept:name\" value=\"\"/></global>\n"
	      "<global scope=\"event\"><string key=\"concept:name\" value=\"\"/>"
	      "<string key=\"lifecycle:transition\" value=\"complete\"/>"
	      "<date key=\"time:timestamp\" value=\"1970-01-01T00:00:00.000+00:00\"/></global>\n"
	      "<classifier name=\"Activity\" scope=\"event\" keys=\"concept:name\"/>\n"
	      "<string key=\"lifecycle:model\" value=\"standard\"/>\n",
	      out);
}

void xes_end(FILE *out)
{
	fputs("</log>\n", out);
}
