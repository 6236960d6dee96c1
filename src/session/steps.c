/* The steps that handlers of events are put together from. */
#include "session/internal.h"

#include <assert.h>

struct session_effect *effect_add(struct session_effects *effects, enum session_effect_kind kind)
{
	assert(effects->count < SESSION_EFFECTS_MAX);
	struct session_effect *effect = &effects->items[effects->count++];
	*effect = (struct session_effect){.kind = kind, .response_us = -1};
	return effect;
}

void effect_say(struct session_effects *effects, enum notice notice)
{
	effect_add(effects, SESSION_SAY_NOTICE)->notice = notice;
}

struct session_effect *effect_write(const struct session *session, struct session_effects *effects,
				    enum journal_kind record)
{
	struct session_effect *effect = effect_add(effects, SESSION_WRITE);

	effect->record = record;
	effect->call = session->call;
	effect->working = session->state == SESSION_CALLING;
	return effect;
}

void effect_after(struct session_effects *effects)
{
	effects->items[effects->count - 1].after = true;
}

void session_remember(struct session *session)
{
	for (int i = SESSION_MEMORY - 1; i > 0; i--)
		session->before[i] = session->before[i - 1];
	session->before[0] = (struct session_snapshot){
		session->state, session->call,     session->station, session->asking,
		session->fresh, session->way_back, session->choosing};
	if (session->remembered < SESSION_MEMORY)
		session->remembered++;
}

void session_forget(struct session *session)
{
	session->remembered = 0;
}

void session_pause(struct session *session, const struct session_event *event)
{
	session->state = SESSION_PAUSED;
	session->paused_since_us = event->boot_us;
}

void session_go_on(struct session *session)
{
	session->state = session->station ? SESSION_STATION : SESSION_CALLING;
	session->pedal_gone = false;
	session->fresh = false;
}

bool session_why(struct session *session, const struct session_event *event,
		 struct session_effects *effects)
{
	(void)event;
	effect_add(effects, SESSION_SAY_WHY)->call = session->call;
	effect_write(session, effects, JOURNAL_WHY);
	return true;
}

bool session_end(struct session *session, const struct session_event *event,
		 struct session_effects *effects)
{
	enum journal_kind record = event->kind == SESSION_ABANDON     ? JOURNAL_ABANDONED
				   : session->state == SESSION_ENDING ? JOURNAL_FINISHED
								      : JOURNAL_STOPPED;

	session->state = SESSION_OVER;
	effect_write(session, effects, record)->text = event->text;
	effect_add(effects, SESSION_CLOSE);
	return true;
}
