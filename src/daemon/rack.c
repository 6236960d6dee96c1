/* With no job under way, the rack by pedal: a press says what is next, a second one takes it, a
 * hold passes it over. A press may turn out to be the start of a hold or of a double tap, so a job
 * is taken only when the press can no longer be taken back. */
#include "daemon/internal.h"

#include <stdlib.h>

/* Takes words. */
static void say_words(struct daemon *daemon, enum notice notice, char *words,
		      enum speech_urgency urgency)
{
	daemon_say(daemon, notice_name(notice), words, urgency);
	free(words);
	speech_rest(daemon->speech, clock_steady_us());
}

static void say(struct daemon *daemon, enum notice notice, const struct notice_facts *facts,
		enum speech_urgency urgency)
{
	struct phrase_options options = daemon->bench->phrases;

	say_words(daemon, notice, phrase_notice(daemon_book(daemon), notice, facts, &options),
		  urgency);
}

static void say_work(struct daemon *daemon, const struct work *work, enum notice notice)
{
	say_words(daemon, notice, work_notice(work, &(struct session_effect){.notice = notice}, 0),
		  SPEECH_NOW);
}

/* `why` is English: a phrasebook in another language leaves it to the log. */
static void say_fault(struct daemon *daemon, const char *job, const char *why)
{
	say(daemon, daemon->work ? NOTICE_REFUSED : NOTICE_RACK_FAULT,
	    &(struct notice_facts){.job = job, .reason = why}, SPEECH_NOW);
	daemon_log(daemon, memory_copy(why));
}

/* The entry as a job, at the call where it stands. NULL with *why if it cannot be done. */
static struct work *entry_work(struct daemon *daemon, const struct rack_entry *entry, char **why)
{
	struct faults faults = {0};
	struct journal_job job = {0};
	struct work *work = NULL;

	if (!entry->began) {
		struct script *script = script_read_text(entry->plan_file, entry->plan_text, NULL,
							 daemon->options.teach, daemon->bench,
							 daemon->book, &faults);
		work = work_new(script, daemon->book, daemon->bench, 1);
		*why = work ? NULL : memory_copy(faults_first_error(&faults));
	} else if (open_job_find(daemon->journal, entry->began, &job, why) == EXIT_DONE) {
		work_reopen(daemon->journal, &job, daemon->book, daemon->bench, &work, why);
		journal_job_free(&job);
	}
	if (work)
		work->book = daemon_book(daemon);
	faults_free(&faults);
	return work;
}

/* The entry behind `after` that is not under way; NULL if there is none, and that was said. */
static struct work *read_next(struct daemon *daemon, int64_t after, struct rack_entry *entry)
{
	char *why = NULL;
	struct work *work = NULL;
	enum journal_status status = daemon_open_journal(daemon, &why);

	*entry = (struct rack_entry){0};
	if (status == JOURNAL_OK) {
		int64_t under_way = daemon->work ? journal_number(daemon->journal) : 0;
		status = journal_rack_next(daemon->journal, after, under_way, entry);
		if (status != JOURNAL_OK)
			why = memory_copy(journal_message(daemon->journal));
	}
	if (entry->count)
		work = entry_work(daemon, entry, &why);
	if (why)
		say_fault(daemon, entry->name, why);
	else if (!entry->count)
		say(daemon, NOTICE_RACK_EMPTY, &(struct notice_facts){0}, SPEECH_NOW);
	free(why);
	return work;
}

/* Says the entry behind `after`, and offers it. */
static void offer(struct daemon *daemon, int64_t after)
{
	struct rack_entry entry;
	struct work *work = read_next(daemon, after, &entry);

	daemon->offer = (struct offer){.state = entry.count ? OFFER_FAULTY : OFFER_NONE,
				       .after = after,
				       .entry = entry.id};
	if (work) {
		daemon->offer.state = OFFER_SAID;
		say_work(daemon, work, entry.began ? NOTICE_RACK_AGAIN : NOTICE_RACK_NEXT);
	}
	work_free(work);
	rack_entry_free(&entry);
}

void daemon_rack_tell(struct daemon *daemon)
{
	struct rack_entry entry;

	daemon->rack_asked = false;
	if (!daemon->work) {
		offer(daemon, daemon->offer.after);
		return;
	}
	struct work *work = read_next(daemon, 0, &entry);
	if (work)
		say_work(daemon, work, NOTICE_RACK_AFTER);
	work_free(work);
	rack_entry_free(&entry);
}

/* Another program may have changed the rack since it was said: then what is next now is said. */
static void take(struct daemon *daemon)
{
	const struct offer offered = daemon->offer;
	struct rack_entry entry;
	char *told = NULL;
	struct work *work = read_next(daemon, offered.after, &entry);
	enum exit_code code = EXIT_DONE;

	daemon->offer = (struct offer){0};
	if (work && entry.id != offered.entry) {
		work_free(work);
		offer(daemon, offered.after);
	} else if (work && entry.began) {
		work_free(work);
		code = daemon_reopen(daemon, entry.began, &told);
	} else if (work) {
		code = daemon_begin(daemon, work, &told);
	}
	if (code != EXIT_DONE) {
		daemon->offer = (struct offer){
			.state = OFFER_FAULTY, .after = offered.after, .entry = offered.entry};
		say_fault(daemon, entry.name, told);
	}
	free(told);
	rack_entry_free(&entry);
}

static bool has_rack(const struct daemon *daemon)
{
	return !daemon->options.once || daemon->options.rack;
}

bool daemon_rack_step(struct daemon *daemon, enum session_event_kind kind)
{
	struct offer *now = &daemon->offer;
	enum offer_state before = now->before;

	if (!has_rack(daemon))
		return false;
	now->before = now->state;
	switch (kind) {
	case SESSION_NEXT:
		if (now->state == OFFER_SAID)
			now->state = OFFER_TAKEN;
		else
			offer(daemon, now->state == OFFER_FAULTY ? now->entry : now->after);
		break;
	case SESSION_UNDO_PAUSE: /* a hold: its press has said the entry, or taken it */
		if (before == OFFER_SAID || before == OFFER_TAKEN)
			offer(daemon, now->entry);
		break;
	case SESSION_PAUSE_TOGGLE:
	case SESSION_PAUSE:
	case SESSION_CHOICES:
		offer(daemon, now->entry);
		break;
	default:
		offer(daemon, now->after);
	}
	return true;
}

void daemon_rack_settled(struct daemon *daemon)
{
	if (daemon->offer.state == OFFER_TAKEN)
		take(daemon);
}

bool daemon_rack_wait(struct daemon *daemon)
{
	struct rack_entry entry = {0};

	daemon->offer = (struct offer){0};
	if (daemon->journal && has_rack(daemon))
		journal_rack_next(daemon->journal, 0, 0, &entry);
	int count = entry.count;
	if (count)
		say(daemon, NOTICE_RACK_WAITS, &(struct notice_facts){.jobs = count}, SPEECH_AFTER);
	rack_entry_free(&entry);
	return count > 0;
}
