/* Carrying out what the session wants, and telling whoever watches. */
#include "daemon/internal.h"

#include <stdlib.h>
#include <string.h>

/* ---- notes ---- */

static const char *const kinds[NOTES] = {
	[NOTE_JOB] = "job",       [NOTE_CALL] = "call", [NOTE_SAID] = "said",
	[NOTE_RECORD] = "record", [NOTE_LOG] = "log",
};

void note_json(const struct note *note, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_string(&json, "event", kinds[note->kind]);
	if (note->name)
		json_string(&json, "name", note->name);
	if (note->number)
		json_int(&json, "number", note->number);
	if (note->call) {
		json_int(&json, "call", note->call);
		json_int(&json, "calls", note->calls);
	}
	if (note->phase)
		json_string(&json, "phase", note->phase);
	if (note->state)
		json_string(&json, "state", note->state);
	if (note->text)
		json_string(&json, "text", note->text);
	if (note->response_us > 0)
		json_number(&json, "response_ms", (double)note->response_us / (double)MS_US, 3);
	json_number(&json, "time", (double)note->wall_us / (double)SECOND_US, 3);
	json_close(&json, '}');
}

static void note_print(const struct note *note, FILE *out)
{
	time_t seconds = (time_t)(note->wall_us / SECOND_US);
	struct tm local;
	char clock[16] = "";

	if (localtime_r(&seconds, &local))
		strftime(clock, sizeof(clock), "%H:%M:%S", &local);
	fprintf(out, "%s  ", clock);
	if (note->call)
		fprintf(out, "%3d/%d  ", note->call, note->calls);
	if (note->kind == NOTE_RECORD)
		fprintf(out, "[%s]", note->name);
	else if (note->kind == NOTE_JOB)
		fprintf(out, "job %s", note->name);
	if (note->response_us > 0)
		fprintf(out, " after %.0f ms", (double)note->response_us / (double)MS_US);
	if (note->text)
		fprintf(out, "%s%s",
			note->kind == NOTE_RECORD || note->kind == NOTE_JOB ? ": " : "",
			note->text);
	fputc('\n', out);
	fflush(out);
}

void daemon_note(struct daemon *daemon, struct note note)
{
	const struct work *work = daemon->work;

	note.wall_us = clock_wall_us();
	if (work) {
		note.calls = work->session.calls;
		if (!note.call)
			note.call = work->session.call;
		if (note.call > note.calls)
			note.call = note.calls;
		note.phase = script_line(work->script, note.call)->phase;
		note.state = session_state_name(work->session.state);
	}
	if (daemon->options.log && (daemon->options.once || note.kind != NOTE_RECORD))
		note_print(&note, daemon->options.log);
	struct text line = {0};
	note_json(&note, &line);
	control_tell(daemon->control, text_string(&line));
	text_free(&line);
}

void daemon_log(struct daemon *daemon, char *text)
{
	daemon_note(daemon, (struct note){.kind = NOTE_LOG, .text = text});
	free(text);
}

/* ---- the voice ---- */

int daemon_on_ready(sd_event_source *io, int fd, uint32_t events, void *data)
{
	(void)io;
	(void)fd;
	(void)events;
	(void)data;
	return 0;
}

const struct phrasebook *daemon_book(const struct daemon *daemon)
{
	return daemon->job_book ? daemon->job_book : daemon->book;
}

void daemon_open_voice(struct daemon *daemon)
{
	const struct bench *bench = daemon->bench;
	bool chosen = bench->voice && !daemon->job_book;
	const struct speech_options options = {
		.sound = daemon->options.sound ? daemon->options.sound : bench->sound,
		.voice = chosen ? bench->voice : phrasebook_voice(daemon_book(daemon)),
		.recorded = bench->recorded,
		.rate_wpm = bench->rate_wpm,
		.volume_percent = bench->volume_percent,
		.tone = bench->tone,
		.loud = bench->phrases.clear,
	};

	daemon->voice_io = sd_event_source_disable_unref(daemon->voice_io);
	speech_close(daemon->speech);
	daemon->said_generation = daemon->last_generation = daemon->heard_out = 0;
	daemon->talking = false;
	memory_replace(&daemon->voice, "the voice is being started");
	daemon->voice_state = VOICE_STARTING;
	daemon->speech = speech_open(&options, clock_steady_us());
	speech_rest(daemon->speech, clock_steady_us()); /* until there is a job */
	sd_event_add_io(daemon->loop, &daemon->voice_io, speech_fd(daemon->speech), EPOLLIN,
			daemon_on_ready, NULL);
}

void daemon_speak(struct daemon *daemon, struct phrasebook *job_book)
{
	bool changes = job_book || daemon->job_book;

	phrasebook_free(daemon->job_book);
	daemon->job_book = job_book;
	if (changes)
		daemon_open_voice(daemon);
}

/* ---- saying ---- */

/* Whoever asked is answered with it. */
static void keep_spoken(struct daemon *daemon, const char *words)
{
	if (daemon->spoken)
		text_format(daemon->spoken, "%s%s", daemon->spoken->length ? " " : "", words);
}

static void say(struct daemon *daemon, const char *words, enum speech_urgency urgency)
{
	if (daemon->heard_out && urgency == SPEECH_NOW)
		urgency = SPEECH_NEXT;
	daemon->last_generation = speech_say(daemon->speech, words, urgency, clock_steady_us());
	daemon->talking = true;
}

static void say_call(struct daemon *daemon, const struct session_effect *effect, int64_t press_us)
{
	struct work *work = daemon->work;

	free(work->words);
	work->words = session_words(&work->session, effect->call, effect->words);
	say(daemon, work->words, effect->after ? SPEECH_AFTER : SPEECH_NOW);
	daemon->said_generation = daemon->last_generation;
	daemon->said_call = effect->call;
	daemon->said_press_us = effect->after || daemon->heard_out ? 0 : press_us;
	memory_replace(&daemon->said, "");
	keep_spoken(daemon, work_words(work));
	daemon_note(daemon,
		    (struct note){.kind = NOTE_CALL, .call = effect->call, .text = work->words});
}

void daemon_say(struct daemon *daemon, const char *name, const char *words,
		enum speech_urgency urgency)
{
	say(daemon, words, urgency);
	memory_replace(&daemon->said, words);
	daemon->said_beside = false;
	keep_spoken(daemon, words);
	daemon_note(daemon, (struct note){.kind = NOTE_SAID, .name = name, .text = words});
}

/* What to look for stays to be seen with who says that it is right, after a press in vain too; and
 * what has changed in the plan with the place. The caller frees it. */
static char *shown_with(const struct daemon *daemon, const struct session_effect *effect,
			const char *words)
{
	const char *before = daemon->said ? daemon->said : "";
	bool station =
		effect->notice == NOTICE_STATION_ALONE || effect->notice == NOTICE_STATION_TRAINER;

	if (station && strstr(before, words))
		return memory_copy(before);
	return effect->after && (station || effect->notice == NOTICE_REOPENED)
		       ? memory_format("%s %s", before, words)
		       : memory_copy(words);
}

static void say_notice(struct daemon *daemon, const struct session_effect *effect)
{
	char *words = work_notice(daemon->work, effect, clock_steady_us());
	char *shown = shown_with(daemon, effect, words);

	daemon_say(daemon, notice_name(effect->notice), words,
		   effect->after ? SPEECH_AFTER : SPEECH_NOW);
	memory_replace(&daemon->said, shown);
	daemon->said_beside = effect->after && daemon->work->session.state == SESSION_CALLING;
	free(shown);
	free(words);
	if (effect->notice == NOTICE_PLAN_CHANGED)
		daemon->heard_out = daemon->last_generation;
	/* Of what waits only warnings must be heard: a press in the choices has said the next, and
	 * one that goes on needs no place. */
	if (effect->after && effect->notice != NOTICE_REOPENED &&
	    daemon->work->session.state != SESSION_CHOOSING)
		daemon->owed[effect->notice] = daemon->last_generation;
}

/* What is left on a reel may be set anew after the job began. */
static void check_reel(struct daemon *daemon, const struct script_line *line)
{
	static const char sql[] =
		"SELECT 1, left_mm FROM reel WHERE name = :name AND left_mm < :cut_mm";
	bool is_short = false;

	if (!line->reel || !*line->reel)
		return;
	journal_ask(daemon->journal, sql,
		    FIELDS(field_text("name", line->reel), field_number("cut_mm", line->cut_mm)),
		    TARGETS(INTO(is_short), INTO(daemon->work->reel_left_mm)));
	if (!is_short)
		return;
	say_notice(daemon, &(struct session_effect){.notice = NOTICE_REEL_SHORT, .after = true});
}

/* A press cuts off what waits its turn, too. A warning is not lost by that: it waits anew, behind
 * the words of the press. `before`: the last generation before those. */
static void say_owed(struct daemon *daemon, uint64_t before)
{
	for (int notice = 0; notice < NOTICES; notice++)
		if (daemon->owed[notice] && daemon->owed[notice] <= before) {
			say_notice(daemon,
				   &(struct session_effect){.notice = notice, .after = true});
		}
}

/* Between two tries to write what waits: each may take a quarter of a second. Our choice. */
static const int64_t retry_us = 2 * SECOND_US;

/* The session is told of the journal's troubles when its effects are done, not in their midst. */
static void watch_journal(struct daemon *daemon, enum journal_status status)
{
	free(daemon->journal_fault);
	daemon->journal_fault =
		status == JOURNAL_OK ? NULL : memory_copy(journal_message(daemon->journal));
	daemon->journal_due_us = clock_steady_us() + retry_us;
}

/* How long the computer has slept since it was started. The clocks are read one after the other,
 * which makes it too little, never too much: so the most that was seen is the nearest. */
static int64_t slept_us(struct daemon *daemon)
{
	int64_t boot_us = clock_boot_us();
	int64_t slept_us = boot_us - clock_steady_us();

	if (slept_us > daemon->slept_us)
		daemon->slept_us = slept_us;
	return daemon->slept_us;
}

/* What the journal is told of something that happened then; `call` is a place in the script. What
 * the speaker reports may be older than what is written already: no span of time is negative. */
static struct journal_event event_of(struct daemon *daemon, enum journal_kind kind, int call,
				     int64_t time_us)
{
	if (daemon->recorded_us < time_us)
		daemon->recorded_us = time_us;
	return (struct journal_event){
		.kind = kind,
		.call = script_call(daemon->work->script, call),
		.steady_us = daemon->recorded_us,
		.boot_us = daemon->recorded_us + slept_us(daemon),
		.wall_us = clock_wall_us() - (clock_steady_us() - daemon->recorded_us),
		.response_us = JOURNAL_NO_RESPONSE,
	};
}

static char *describe_end(const struct daemon *daemon, const char *name, enum journal_kind record)
{
	const struct script *script = daemon->work->script;
	long long number = (long long)journal_number(daemon->journal);
	int call = daemon->work->session.call;
	char *journal = journal_option(daemon->options.journal);
	struct text ended = {0};

	if (record == JOURNAL_FINISHED)
		text_format(&ended, "%s is done. Where the minutes went: pullcall review %lld%s",
			    name, number, journal);
	else if (number == 0)
		text_format(&ended, "%s was not begun: nothing of it is kept.", name);
	else
		text_format(&ended, "%s is %s at call %d of %d.", name,
			    record == JOURNAL_ABANDONED ? "closed" : "kept",
			    call > script->count ? script->count : call, script->count);
	if (record == JOURNAL_STOPPED && number)
		text_format(&ended, " To go on: pullcall %s --resume %lld%s",
			    daemon->options.once ? "run" : "load", number,
			    daemon->options.once ? journal : "");
	free(journal);
	return text_take(&ended);
}

/* The same where that record is not on the disk: it is said what is. */
static char *describe_unsaved(const struct daemon *daemon, const char *name,
			      enum journal_kind record)
{
	int call = daemon->work->session.call;
	char *number = memory_format("%lld", (long long)journal_number(daemon->journal));
	char *journal = journal_option(daemon->options.journal);
	struct journal_job kept = {0};
	struct text ended = {0};

	journal_find(daemon->journal, number, &kept);
	text_format(&ended, "%s is %s", name,
		    record == JOURNAL_FINISHED    ? "done, but the journal has it open"
		    : record == JOURNAL_ABANDONED ? "still open"
						  : "kept");
	if (kept.place)
		text_format(&ended, " at call %d of %d", kept.place, kept.places);
	text_add(&ended, ". What came after");
	if (record == JOURNAL_STOPPED && call != kept.place)
		text_format(&ended, ", up to call %d,", call);
	text_format(&ended, " could not be saved (%s). ", daemon->journal_fault);
	if (record == JOURNAL_STOPPED)
		text_format(&ended, "To go on: pullcall %s --resume %s%s",
			    daemon->options.once ? "run" : "load", number,
			    daemon->options.once ? journal : "");
	else
		text_format(&ended, "To close it: pullcall abandon %s REASON%s", number, journal);
	journal_job_free(&kept);
	free(journal);
	free(number);
	return text_take(&ended);
}

const char *daemon_ended(const struct daemon *daemon)
{
	return daemon->unsaved ? daemon->unsaved : daemon->ended;
}

/* How a run ended, for whoever ended it: its last record, and what to type next. */
static void tell_end(struct daemon *daemon, enum journal_kind record)
{
	const struct script *script = daemon->work->script;
	char *name = script_label(script->job, script->racket, script->customer);

	free(daemon->ended);
	daemon->ended = describe_end(daemon, name, record);
	if (daemon->journal_fault)
		daemon->unsaved = describe_unsaved(daemon, name, record);
	free(name);
	if (!daemon->options.once)
		daemon_log(daemon, memory_copy(daemon_ended(daemon)));
}

/* What waited is on the disk. */
static void forget_unsaved(struct daemon *daemon)
{
	if (!daemon->unsaved)
		return;
	free(daemon->unsaved);
	daemon->unsaved = NULL;
	daemon_log(daemon, memory_format("the journal was written: %s", daemon->ended));
}

bool daemon_save(struct daemon *daemon)
{
	if (daemon->unsaved && journal_flush(daemon->journal) == JOURNAL_OK)
		forget_unsaved(daemon);
	return !daemon->unsaved;
}

static void note_record(struct daemon *daemon, const struct journal_event *event)
{
	daemon_note(daemon, (struct note){.kind = NOTE_RECORD,
					  .name = journal_kind_names[event->kind],
					  .text = event->detail,
					  .response_us = event->response_us});
}

static void write_record(struct daemon *daemon, const struct session_effect *effect,
			 int64_t time_us)
{
	struct journal_event event = event_of(daemon, effect->record, effect->call, time_us);

	event.working = effect->working;
	event.response_us = effect->response_us;
	event.detail = effect->text;
	/* A job that was only looked at leaves nothing behind. */
	if (event.kind == JOURNAL_STOPPED && !event.detail && journal_discard(daemon->journal)) {
		watch_journal(daemon, JOURNAL_OK);
		daemon_note(daemon, (struct note){.kind = NOTE_RECORD, .name = "discarded"});
	} else {
		watch_journal(daemon, journal_append(daemon->journal, &event));
		note_record(daemon, &event);
	}
	if (daemon->work->session.state == SESSION_OVER &&
	    !script_teaching_is(daemon->work->script, "drill"))
		tell_end(daemon, event.kind);
}

static void set_volume(struct daemon *daemon, bool louder)
{
	enum { STEP = 5, PARTS = 4, LEAST = 10 }; /* a quarter: our choice */
	int *volume = &daemon->bench->volume_percent;
	int percent = louder ? *volume * STEP / PARTS : *volume * PARTS / STEP;

	*volume = percent > SPEECH_VOLUME_MAX ? SPEECH_VOLUME_MAX
		  : percent < LEAST           ? LEAST
					      : percent;
	speech_set_volume(daemon->speech, *volume, clock_steady_us());
	daemon_log(daemon, memory_format("voice: volume %d %%", *volume));
}

void daemon_choose(struct daemon *daemon, enum choice choice)
{
	struct work *work = daemon->work;

	if (choice == CHOICE_RACK) {
		daemon->rack_asked = true;
	} else if (choice == CHOICE_LOUDER || choice == CHOICE_SOFTER) {
		set_volume(daemon, choice == CHOICE_LOUDER);
	} else {
		work->script->says_short = choice == CHOICE_SHORTER;
		watch_journal(daemon, journal_keep_script(daemon->journal, 0, work->script));
	}
}

/* What the next press may ask for is synthesised now: it is not to wait for that. */
static void prepare(struct daemon *daemon)
{
	const struct work *work = daemon->work;
	const struct session *session = &work->session;
	int call = session->call;
	bool paused = session->state == SESSION_PAUSED;
	const char *texts[SPEECH_PREPARED_MAX];
	size_t count = 0;
	bool asked = session->asking == ASKING_OPEN;
	int place = asked || session->fresh || session->station ? call : call + 1;
	char *next = NULL;

	if (place <= session->calls && (!paused || session->fresh))
		next = session_words(session, place,
				     asked ? SAY_SHORT : session_manner(session, place));
	if (next)
		texts[count++] = next;
	if (!session->fresh && call <= session->calls)
		texts[count++] = script_line(work->script, call)->again_words;
	if (call > 1)
		texts[count++] = script_line(work->script, call - 1)->again_words;
	speech_prepare(daemon->speech, texts, count);
	free(next);
}

/* Whether a job waits on the rack beside the one under way. */
static bool rack_waits(struct daemon *daemon)
{
	bool waits;

	journal_ask(daemon->journal, "SELECT 1 FROM rack WHERE began IS NOT :job",
		    FIELDS(field_number("job", journal_number(daemon->journal))),
		    TARGETS(INTO(waits)));
	return waits;
}

static bool step_once(struct daemon *daemon, struct session_event event);

/* "redo cross 9", "slipped" */
static char *mishap_words(const struct script_mishap *mishap)
{
	struct text words = {0};

	text_add(&words, mishap->kind);
	if (mishap->string)
		text_format(&words, " %s %d", mishap->string, mishap->number);
	if (mishap->side)
		text_format(&words, " %s", mishap->side);
	return text_take(&words);
}

/* Goes on with the new script, which may be NULL: it could not be made. It is on the disk before
 * anything is said: killed in between, the job goes on at the first call of the way back. What
 * cannot be written is not begun, or a job that is gone on with would not know it. */
static bool take_script(struct daemon *daemon, struct script *script, enum session_event_kind kind,
			struct faults *faults)
{
	struct work *work = daemon->work;
	struct script *old = work->script;
	bool begins = kind == SESSION_WENT_BACK;

	if (!script)
		return false;
	const struct script *its = begins ? script : old; /* that has the mishap */
	char *detail = mishap_words(&its->mishaps[its->mishap_count - 1]);
	struct journal_event record = event_of(daemon, begins ? JOURNAL_MISHAP : JOURNAL_UNDO,
					       work->session.call, clock_steady_us());
	record.call = script_call(script, work->session.call + (begins ? 1 : -1));
	record.working = true;
	record.detail = detail;
	enum journal_status status = journal_go_back(daemon->journal, script, &record);
	watch_journal(daemon, status);
	if (status == JOURNAL_OK) {
		note_record(daemon, &record);
		work->script = script;
		step_once(daemon, (struct session_event){kind, .script = script});
	} else {
		fault_add(faults, FAULT_ERROR, "journal", (struct position){0}, "journal", "%s",
			  journal_message(daemon->journal));
	}
	free(detail);
	script_free(status == JOURNAL_OK ? old : script);
	return status == JOURNAL_OK;
}

bool daemon_go_back(struct daemon *daemon, const struct script_mishap *mishap,
		    struct faults *faults)
{
	struct work *work = daemon->work;

	if (work->session.call > work->session.calls) {
		fault_add(faults, FAULT_ERROR, work->script->plan_file, (struct position){0},
			  "back-done", "the job is done: step back to its last call first");
		return false;
	}
	struct script *script = script_go_back(work->script, work->session.call, mishap,
					       daemon->bench, work->book, faults);
	return take_script(daemon, script, SESSION_WENT_BACK, faults);
}

static bool go_back(struct daemon *daemon, const struct session_effect *effect,
		    struct faults *faults)
{
	struct script_mishap mishap = {.kind = choice_name(effect->choice)};

	if (effect->choice == CHOICE_REDO) {
		const struct script_line *line = script_line(daemon->work->script, effect->call);
		mishap.string = line->string;
		mishap.number = line->number;
		mishap.side = strcmp(line->string, "main") == 0 ? line->side : NULL;
	}
	return daemon_go_back(daemon, &mishap, faults);
}

/* The notice that says what to do instead: "refused-" and the code of the fault. */
static enum notice refusal_of(const struct fault *fault)
{
	enum { PREFIX = sizeof("refused-") - 1 };

	for (enum notice notice = NOTICE_REFUSED + 1; notice <= NOTICE_REFUSED_MANY; notice++)
		if (strcmp(notice_name(notice) + PREFIX, fault->code) == 0)
			return notice;
	return NOTICE_REFUSED;
}

/* A way back is begun, or called off: or it is said why not. */
static void change_script(struct daemon *daemon, const struct session_effect *effect)
{
	struct faults faults = {0};
	bool done = effect->kind == SESSION_CALL_OFF
			    ? take_script(daemon,
					  script_call_off(daemon->work->script, daemon->bench,
							  daemon->work->book, &faults),
					  SESSION_CALLED_OFF, &faults)
			    : go_back(daemon, effect, &faults);

	if (!done) {
		const struct fault *fault = &faults.items[0];
		step_once(daemon, (struct session_event){.kind = SESSION_REFUSED,
							 .notice = refusal_of(fault),
							 .text = fault->text});
	}
	faults_free(&faults);
}

static void carry_out(struct daemon *daemon, const struct session_effect *effect,
		      const struct session_event *event)
{
	switch (effect->kind) {
	case SESSION_SAY_CALL:
		say_call(daemon, effect, event->time_us);
		check_reel(daemon, script_line(daemon->work->script, effect->call));
		break;
	case SESSION_SAY_WHY:
		daemon_say(daemon, "why", script_line(daemon->work->script, effect->call)->why,
			   SPEECH_NOW);
		break;
	case SESSION_SAY_NOTICE:
		say_notice(daemon, effect);
		break;
	case SESSION_WRITE:
		write_record(daemon, effect, event->time_us);
		break;
	case SESSION_CHOSEN:
		daemon_choose(daemon, effect->choice);
		break;
	case SESSION_GO_BACK:
	case SESSION_CALL_OFF: /* the last effect of its event */
		change_script(daemon, effect);
		break;
	}
}

static bool step_once(struct daemon *daemon, struct session_event event)
{
	struct session_effects effects;

	if (event.time_us == 0)
		event.time_us = clock_steady_us();
	event.boot_us = event.time_us + slept_us(daemon);
	event.rack_waits = daemon->work->session.state == SESSION_CHOOSING && rack_waits(daemon);
	bool done = session_step(&daemon->work->session, &event, &effects);
	uint64_t before = daemon->last_generation;
	bool cut_off = false;

	for (int i = 0; i < effects.count; i++) {
		uint64_t last = daemon->last_generation;
		carry_out(daemon, &effects.items[i], &event);
		cut_off |= daemon->last_generation > last && !effects.items[i].after;
	}
	if (cut_off)
		say_owed(daemon, before);
	if (daemon->last_generation > before)
		prepare(daemon);
	if (daemon->work->session.state == SESSION_PAUSED)
		speech_rest(daemon->speech, clock_steady_us());
	return done;
}

static void tell_journal_news(struct daemon *daemon)
{
	bool failed = daemon->journal_fault != NULL;

	if (failed == daemon->journal_failed)
		return;
	daemon->journal_failed = failed;
	if (failed)
		daemon_log(daemon, memory_format("journal: %s", daemon->journal_fault));
	step_once(daemon, (struct session_event){.kind = SESSION_REPORT,
						 .notice = failed ? NOTICE_JOURNAL_FAILED
								  : NOTICE_JOURNAL_MENDED});
}

int64_t daemon_retry_us(const struct daemon *daemon)
{
	return daemon->journal && journal_waits(daemon->journal) ? daemon->journal_due_us
								 : INT64_MAX;
}

void daemon_retry_journal(struct daemon *daemon)
{
	if (clock_steady_us() < daemon_retry_us(daemon))
		return;
	watch_journal(daemon, journal_flush(daemon->journal));
	if (!daemon->journal_fault)
		forget_unsaved(daemon);
	if (daemon->work)
		tell_journal_news(daemon);
}

bool daemon_step(struct daemon *daemon, struct session_event event)
{
	if (!daemon->work)
		return false;
	bool done = step_once(daemon, event);
	tell_journal_news(daemon);
	return done;
}
