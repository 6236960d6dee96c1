/* What the session wants done, put together. */
#include "session/internal.h"

#include <assert.h>

struct session_effect *effect_add(struct session_effects *effects, enum session_effect_kind kind)
{
	assert(effects->count < SESSION_EFFECTS_MAX);
	struct session_effect *effect = &effects->items[effects->count++];
	*effect = (struct session_effect){.kind = kind, .response_us = -1};
	return effect;
}

void effect_say_call(const struct session *session, struct session_effects *effects, bool again)
{
	struct session_effect *effect = effect_add(effects, SESSION_SAY_CALL);

	effect->call = session->call;
	effect->again = again;
}

void effect_say_call_after(const struct session *session, struct session_effects *effects)
{
	effect_say_call(session, effects, false);
	effects->items[effects->count - 1].after = true;
}

void effect_say(struct session_effects *effects, enum notice notice)
{
	effect_add(effects, SESSION_SAY_NOTICE)->notice = notice;
}

void effect_say_after(struct session_effects *effects, enum notice notice)
{
	effect_say(effects, notice);
	effects->items[effects->count - 1].after = true;
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

void effect_why(const struct session *session, struct session_effects *effects)
{
	effect_add(effects, SESSION_SAY_WHY)->call = session->call;
	effect_write(session, effects, JOURNAL_WHY);
}

bool effect_end(struct session *session, const struct session_event *event,
		enum journal_kind record, struct session_effects *effects)
{
	session->state = SESSION_OVER;
	effect_write(session, effects, record)->text = event->text;
	effect_add(effects, SESSION_CLOSE);
	return true;
}
