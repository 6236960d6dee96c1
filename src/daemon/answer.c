/* Answers the requests that come through the control socket. A row of the table at the end is all
 * that a word takes, here and in `pullcall tell`. */
#include "daemon/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* ---- answers ---- */

/* The numbers whose bits are set. */
static void add_numbers(struct json *json, const char *key, uint64_t bits)
{
	json_open(json, key, '[');
	for (int number = 1; number < 64; number++)
		if (bits >> number & 1)
			json_int(json, NULL, number);
	json_close(json, ']');
}

/* To draw the bed: how many strings there are, which are in, and which one the call is about. */
static void add_bed(const struct work *work, struct json *json)
{
	const struct script *script = work->script;
	int call = work->session.call;
	struct script_bed bed = script_bed(script, call);
	const struct script_line *line = script_line(script, call);

	json_int(json, "mains", script->whole.mains);
	json_int(json, "crosses", script->whole.crosses);
	json_string(json, "crosses_start", script->crosses_start);
	json_open(json, "in_bed", '{');
	add_numbers(json, "left", bed.left);
	add_numbers(json, "right", bed.right);
	add_numbers(json, "crosses", bed.crosses);
	json_close(json, '}');
	if (call > script->count || !line->string || line->number == 0)
		return;
	json_string(json, "string", line->string);
	json_int(json, "number", line->number);
	if (line->side)
		json_string(json, "side", line->side);
}

static void add_known(struct json *json, const char *key, const char *text)
{
	if (text && *text)
		json_string(json, key, text);
}

/* Where the job is: part of every answer that is not an error. */
static void add_place(const struct daemon *daemon, struct json *json)
{
	const struct work *work = daemon->work;

	if (!work) {
		json_string(json, "state", "idle");
		return;
	}
	const struct session *session = &work->session;
	int64_t now_us = clock_steady_us();
	struct script_left left = script_left(work->script, session->call);
	json_string(json, "state", session_state_name(session->state));
	json_string(json, "job", work->script->job);
	add_known(json, "racket", work->script->racket);
	add_known(json, "customer", work->script->customer);
	json_int(json, "call", session->call);
	json_int(json, "calls", session->calls);
	json_string(json, "phase", script_line(work->script, session->call)->phase);
	if (session->call <= session->calls)
		json_string(json, "text", work_words(work));
	if (session->call < session->calls)
		json_string(json, "next", work_next_words(work, session->call + 1));
	if (session->state == SESSION_STATION)
		json_string(json, "station", station_names[session->station - 1]);
	if (session->call <= session->calls)
		add_known(json, "level", session_words_name(session));
	json_int(json, "mains_left", left.mains);
	json_int(json, "crosses_left", left.crosses);
	add_bed(work, json);
	json_number(json, "worked_s", (double)session_worked_us(session, now_us) / 1e6, 1);
	json_number(json, "left_s", ceil((double)pace_left_us(session, now_us) / 1e6), 0);
	if (work_pace(work) > 0)
		json_number(json, "pace", work_pace(work), 2);
	json_string(json, "voice", daemon->voice);
	json_string(json, "pedal", daemon->pedal);
	add_known(json, "journal", daemon->journal_fault);
}

static void add_waiting(void *context, sqlite3_stmt *row)
{
	static const char *const keys[] = {"job", "racket", "customer", "due"};
	struct json *json = context;

	json_open(json, NULL, '{');
	for (int i = 0; i < 4; i++)
		if (sqlite3_column_type(row, i) != SQLITE_NULL)
			json_string(json, keys[i], (const char *)sqlite3_column_text(row, i));
	json_close(json, '}');
}

/* The first jobs that wait, behind the one under way. An idle daemon has no journal open. */
static void add_rack(const struct daemon *daemon, struct json *json)
{
	static const char sql[] = "SELECT name, racket, customer, due FROM rack "
				  "WHERE began IS NOT :job ORDER BY place, id LIMIT 5";
	char *path = daemon->journal ? NULL : daemon_journal_path(daemon), *why = NULL;
	struct journal *journal = daemon->journal;

	if (path)
		journal_open(path, JOURNAL_READ, &journal, &why);
	json_open(json, "rack", '[');
	if (journal)
		journal_each(journal, sql, FIELDS(field_number("job", journal_number(journal))),
			     add_waiting, json);
	json_close(json, ']');
	if (path)
		journal_close(journal);
	free(path);
	free(why);
}

static void answer_place(const struct daemon *daemon, const char *told, bool rack,
			 struct text *reply)
{
	struct json json = {.out = reply};

	json_open(&json, NULL, '{');
	json_bool(&json, "ok", true);
	add_known(&json, "told", told ? told : daemon->work ? daemon_ended(daemon) : NULL);
	if (daemon->spoken)
		add_known(&json, "spoken", text_string(daemon->spoken));
	add_known(&json, "said", daemon->said);
	add_place(daemon, &json);
	if (rack)
		add_rack(daemon, &json);
	json_close(&json, '}');
}

static void refuse(struct text *reply, const char *why)
{
	struct json json = {.out = reply};

	json_open(&json, NULL, '{');
	json_bool(&json, "ok", false);
	json_string(&json, "error", why);
	json_close(&json, '}');
}

/* All faults, one a line, as `pullcall check` prints them. */
static void refuse_faults(struct text *reply, const struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	if (!out)
		return;
	faults_print(faults, out);
	fclose(out);
	while (length > 0 && text[length - 1] == '\n')
		text[--length] = '\0';
	refuse(reply, text);
	free(text);
}

/* ---- what each word does ---- */

static const char no_job[] = "no job is running";

/* Reading a pipe or a device could block the daemon for ever. */
static bool may_block(const char *path)
{
	struct stat file;

	return stat(path, &file) == 0 && !S_ISREG(file.st_mode) && !S_ISDIR(file.st_mode);
}

static void load(struct daemon *daemon, const struct request *request, struct text *reply)
{
	const char *what = request->text;
	char *told = NULL;
	struct faults faults = {0};
	enum exit_code code = EXIT_NO;

	if (request->reopen)
		code = daemon_reopen(daemon, what, &told);
	else if (what[0] != '/')
		told = memory_copy("expected an absolute path");
	else if (may_block(what))
		told = memory_copy("expected a file on a disk, not a pipe or a device");
	else
		code = daemon_load(daemon, what, request->anew, &told, &faults);
	if (code == EXIT_DONE)
		answer_place(daemon, told, false, reply);
	else if (told)
		refuse(reply, told);
	else
		refuse_faults(reply, &faults);
	free(told);
	faults_free(&faults);
}

static void tell_status(struct daemon *daemon, const struct request *request, struct text *reply)
{
	(void)request;
	answer_place(daemon, NULL, true, reply);
}

static const char no_station[] = "no station is waiting";

/* Why a word cannot be done now; the caller frees it. */
static char *refusal(const struct work *work, const struct control_word *word)
{
	const struct session *session = &work->session;

	if (session->state == SESSION_ENDING)
		return memory_copy("the job is done");
	if (session->state == SESSION_STATION && word->value == SESSION_NEXT)
		return memory_copy("the trainer has to say it: \"pullcall tell passed\", or "
				   "\"pullcall tell fault KIND [STRING]\"");
	if (word->refusal == no_station)
		return memory_format("%s: call %d of %d is under way, \"%s\"", no_station,
				     session->call, session->calls, work_words(work));
	return memory_copy(word->refusal ? word->refusal : "not now");
}

static void step(struct daemon *daemon, const struct request *request, struct text *reply)
{
	const struct control_word *word = request->word;

	/* A press before this request is not taken back by a double tap after it. */
	presses_forget(daemon->presses);
	if (!daemon->work) {
		if (daemon_rack_step(daemon, word->value))
			daemon_rack_settled(daemon);
		else
			refuse(reply, no_job);
		return;
	}
	if (!daemon_step(daemon, (struct session_event){.kind = word->value,
							.count = request->count,
							.notice = NOTICE_NOTED,
							.record = JOURNAL_NOTE, /* of a report */
							.text = request->text})) {
		char *why = refusal(daemon->work, word);
		refuse(reply, why);
		free(why);
	}
	daemon->said_press_us = 0; /* nothing was pressed whose answer could be timed */
}

/* Something went wrong: redo, slipped, broke. */
static void go_back(struct daemon *daemon, const struct request *request, struct text *reply)
{
	struct script_mishap mishap = {0};
	struct faults faults = {0};
	char *why = NULL;

	bool good = !request->text || script_parse_string(request->text, &mishap, &why);
	mishap.kind = request->word->name;
	presses_forget(daemon->presses);
	if (good && !daemon_go_back(daemon, &mishap, &faults))
		why = memory_copy(faults.items[0].text);
	if (why)
		refuse(reply, why);
	free(why);
	faults_free(&faults);
}

static bool is_in_bed(const struct work *work, const struct script_mishap *string)
{
	const struct script_bed bed = script_bed(work->script, work->session.call);
	bool right = string->side && strcmp(string->side, "right") == 0;
	uint64_t strings = !string->side ? bed.crosses : right ? bed.right : bed.left;

	return string->number < 64 && strings >> string->number & 1;
}

/* The line that a string was worked on last, by its words; 0 with *why if it is not in the bed. */
static int line_of_string(const struct work *work, const char *text, char **why)
{
	struct script_mishap string;

	if (!script_parse_string(text, &string, why))
		return 0;
	for (int place = work->session.call - 1; place > 0 && is_in_bed(work, &string); place--) {
		const struct script_line *line = script_line(work->script, place);
		bool same = line->string && strcmp(line->string, string.string) == 0;
		bool same_side =
			!string.side || (line->side && strcmp(line->side, string.side) == 0);
		if (same && same_side && line->number == string.number)
			return place;
	}
	*why = memory_format("%s is not in the bed", text);
	return 0;
}

static bool has_tied(const struct work *work)
{
	for (int place = 1; place < work->session.call; place++) {
		const char *skill = script_line(work->script, place)->skill;
		if (strcmp(skill, "tie-off") == 0 || strcmp(skill, "knot") == 0)
			return true;
	}
	return false;
}

static bool clamp_holds(const struct daemon *daemon)
{
	const struct work *work = daemon->work;
	struct faults faults = {0};
	struct script *back = script_go_back(work->script, work->session.call,
					     &(struct script_mishap){.kind = "slipped"},
					     daemon->bench, work->book, &faults);

	script_free(back);
	faults_free(&faults);
	return back != NULL;
}

/* Whether a fault can be found in what is done so far. */
static bool can_be(const struct daemon *daemon, enum work_fault fault)
{
	const struct work *work = daemon->work;
	const struct script_bed bed = script_bed(work->script, work->session.call);
	uint64_t mains = bed.left | bed.right;

	switch (fault) {
	case WORK_MISWEAVE:
	case WORK_NOTCH:
	case WORK_CROOKED:
		return bed.crosses;
	case WORK_WRONG_HOLE:
		return mains;
	case WORK_CROSSED_LOOP:
	case WORK_UNEVEN:
		return mains >> 2; /* a second main: bit 0 stands for none */
	case WORK_CLAMP_SLIP:
		return clamp_holds(daemon);
	case WORK_KNOT:
	case WORK_TAIL:
	case WORK_AWL:
		return has_tied(work);
	default:
		return true;
	}
}

/* At a station, what a trainer may find; the caller frees it. */
static char *tell_faults(const struct daemon *daemon, const char *name, bool known)
{
	const char *names[WORK_FAULTS + 1] = {0};
	int count = 0;

	for (enum work_fault fault = 0; fault < WORK_FAULTS; fault++)
		if (can_be(daemon, fault))
			names[count++] = work_fault_name(fault);
	if (!known)
		return fault_unknown("fault", name, names);
	char *all = text_choice(names);
	char *told = memory_format("\"%s\" cannot be found yet: expected %s", name, all);
	free(all);
	return told;
}

/* The line that the fault is of, 0: it names no string; *why says what is wrong with it. */
static int read_found(const struct daemon *daemon, const char *text, char **why)
{
	size_t length = strcspn(text, " ");
	const char *string = text + length + strspn(text + length, " ");
	char *name = memory_copy_part(text, length);
	enum work_fault fault = WORK_FRAME;
	bool known = work_fault_parse(name, &fault);
	int line = known && *string ? line_of_string(daemon->work, string, why) : 0;

	if (!*why && (!known || !can_be(daemon, fault)))
		*why = tell_faults(daemon, name, known);
	/* Only what is woven can be misweaved or lie crooked: a cross, or a main left for later. */
	bool woven =
		!line || strcmp(script_line(daemon->work->script, line)->phase, "crosses") == 0;
	if (!*why && !woven && (fault == WORK_MISWEAVE || fault == WORK_CROOKED))
		*why = memory_format("\"%s\" is a fault of a cross, not of %s", name, string);
	free(name);
	return line;
}

/* At a station, a trainer found a fault: "misweave cross 9", "tail". */
static void find(struct daemon *daemon, const struct request *request, struct text *reply)
{
	bool stands = daemon->work->session.state == SESSION_STATION;
	char *why = stands ? NULL : refusal(daemon->work, request->word);
	int line = stands ? read_found(daemon, request->text, &why) : 0;

	presses_forget(daemon->presses);
	if (why)
		refuse(reply, why);
	else
		daemon_step(daemon, (struct session_event){.kind = SESSION_FOUND,
							   .call = line,
							   .text = request->text});
	free(why);
}

/* Until the program ends, whatever the bench file says. The words of a job that has begun stay. */
static void set_shop(struct daemon *daemon, const struct request *request, struct text *reply)
{
	bool loud = request->word->value;

	(void)reply;
	daemon->options.shop = loud ? DAEMON_SHOP_LOUD : DAEMON_SHOP_QUIET;
	daemon->bench->phrases.clear = loud;
	speech_set_loud(daemon->speech, loud, clock_steady_us());
}

static void choose(struct daemon *daemon, const struct request *request, struct text *reply)
{
	(void)reply;
	daemon_choose(daemon, request->word->value);
	if (daemon->rack_asked)
		daemon_rack_tell(daemon);
}

const struct control_word control_words[] = {
	{"next",
	 .about = "the next call; while paused, goes on; with no job, says or takes what is next "
		  "on the rack",
	 .act = step, .value = SESSION_NEXT, .idle = true},
	{"again", .about = "the same call again; with no job, what is next on the rack again",
	 .act = step, .value = SESSION_AGAIN, .idle = true},
	{"back", .about = "one call back, or COUNT", .key = "count", .operand = "[COUNT]",
	 .wants = "a count from 1 to 10000", .act = step, .value = SESSION_BACK,
	 .refusal = "this is the first call"},
	{"pause", .about = "stops the clock of work; with no job, passes over what is next",
	 .act = step, .value = SESSION_PAUSE, .refusal = "already paused", .idle = true},
	{"resume", .about = "starts the clock again", .act = step, .value = SESSION_RESUME,
	 .refusal = "not paused"},
	{"where", .about = "says and prints the place, what is left, and the time left",
	 .act = step, .value = SESSION_WHERE},
	{"why", .about = "says and prints the reason for the call", .act = step,
	 .value = SESSION_WHY},
	{"choices",
	 .about = "opens the choices; then next says the next one, again takes it, back leaves",
	 .act = step, .value = SESSION_CHOICES},
	{"stop", .about = "ends the run; the job stays open, to go on with later", .act = step,
	 .value = SESSION_STOP},
	{"loud", .about = "makes the words easier to hear in noise", .act = set_shop, .value = true,
	 .idle = true},
	{"quiet", .about = "back to the usual words", .act = set_shop, .idle = true},
	{"fuller", .about = "says the calls with all their words", .act = choose,
	 .value = CHOICE_FULLER},
	{"shorter", .about = "says the calls with few words", .act = choose,
	 .value = CHOICE_SHORTER},
	{"louder", .about = "raises the voice by a quarter", .act = choose, .value = CHOICE_LOUDER,
	 .idle = true},
	{"softer", .about = "lowers the voice by a quarter", .act = choose, .value = CHOICE_SOFTER,
	 .idle = true},
	{"rack", .about = "says and prints what is next on the rack", .act = choose,
	 .value = CHOICE_RACK, .idle = true},
	{"redo", .about = "a string must be done again: the way back is said", .key = "string",
	 .operand = "STRING", .wants = "a string: \"cross 9\" or \"main 4 left\"", .act = go_back},
	{"slipped", .about = "a clamp has slipped: the way back is said", .act = go_back},
	{"broke", .about = "a string has broken: the way back is said", .act = go_back},
	{"passed", .about = "a trainer: the work at the station is right", .act = step,
	 .value = SESSION_PASSED, .refusal = no_station},
	{"fault", .about = "a trainer: it is not right, and what is wrong", .key = "fault",
	 .operand = "KIND [STRING]", .wants = "a fault and its string: \"misweave cross 9\"",
	 .act = find, .refusal = no_station},
	{"abandon", .about = "closes the job for good; the reason goes into the journal",
	 .key = "reason", .operand = "REASON", .wants = "a reason", .act = step,
	 .value = SESSION_ABANDON},
	{"note", .about = "keeps a line with the call", .key = "note", .operand = "TEXT",
	 .wants = "a text", .act = step, .value = SESSION_REPORT},
	{"load", .key = "file", .act = load, .idle = true},
	{"watch", .idle = true, .watches = true},
	{"status", .act = tell_status, .idle = true},
	{0},
};

/* ---- reading and answering ---- */

enum { COUNT_MAX = 10000, TEXT_BYTES_MAX = 2048 };

static bool read_request(const struct yaml_node *root, struct request *request)
{
	enum { WORDS = sizeof(control_words) / sizeof(control_words[0]) };
	static const char *const truths[] = {"false", "true", NULL};
	const char *names[WORDS], *keys[WORDS + 3] = {"do", "new", "open"};
	int word, anew = 0, key_count = 3;
	const char *text;

	for (int i = 0; i < WORDS; i++) {
		names[i] = control_words[i].name;
		if (control_words[i].key)
			keys[key_count++] = control_words[i].key;
	}
	yaml_is_map(root, keys);
	if (root->document->faults->errors > 0 || !yaml_choice(yaml_need(root, "do"), names, &word))
		return false;
	request->word = &control_words[word];
	const struct yaml_node *count = yaml_get(root, "count");
	if (count && !yaml_int(count, 1, COUNT_MAX, &request->count))
		return false;
	yaml_choice(yaml_get(root, "new"), truths, &anew);
	request->anew = anew;
	request->reopen = request->word->act == load && yaml_get(root, "open");
	const char *key = request->reopen ? "open" : request->word->key;
	if (!key || strcmp(key, "count") == 0)
		return true;
	if (!yaml_text(yaml_need(root, key), TEXT_BYTES_MAX, &text))
		return false;
	request->text = memory_copy(text);
	return true;
}

bool request_read(const char *line, size_t length, struct request *request, struct text *reply)
{
	struct faults faults = {0};

	*request = (struct request){0};
	struct yaml_document *document = yaml_read_json("request", line, length, &faults);
	bool good = document && read_request(document->root, request);
	if (!good)
		refuse(reply, faults.count ? faults.items[0].text : "not a request");
	yaml_free(document);
	faults_free(&faults);
	return good;
}

bool daemon_answer(struct daemon *daemon, const char *line, size_t length, struct text *reply)
{
	struct request request;
	struct text spoken = {0};
	bool good = request_read(line, length, &request, reply);

	daemon->spoken = &spoken;
	if (good && !daemon->work && !request.word->idle)
		refuse(reply, no_job);
	else if (good && request.word->act)
		request.word->act(daemon, &request, reply);
	if (reply->length == 0)
		answer_place(daemon, NULL, false, reply);
	daemon->spoken = NULL;
	text_free(&spoken);
	free(request.text);
	return good && request.word->watches;
}
