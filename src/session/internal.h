/* Shared by the files of this room: session.c has the states, choices.c the choices, and both put
 * their effects together with effects.c. */
#ifndef SESSION_INTERNAL_H
#define SESSION_INTERNAL_H

#include "session/session.h"

/* ---- effects.c ---- */

struct session_effect *effect_add(struct session_effects *effects, enum session_effect_kind kind);

void effect_say_call(const struct session *session, struct session_effects *effects, bool again);
void effect_say(struct session_effects *effects, enum notice notice);

/* The same when what is being said has ended. */
void effect_say_call_after(const struct session *session, struct session_effects *effects);
void effect_say_after(struct session_effects *effects, enum notice notice);

struct session_effect *effect_write(const struct session *session, struct session_effects *effects,
				    enum journal_kind record);

/* The reason for the current call, said and written. */
void effect_why(const struct session *session, struct session_effects *effects);

/* The end of the run. */
bool effect_end(struct session *session, const struct session_event *event,
		enum journal_kind record, struct session_effects *effects);

/* ---- choices.c ---- */

/* Of a paused job. */
void choices_open(struct session *session, const struct session_event *event,
		  struct session_effects *effects);
void choices_reopen(struct session *session, const struct session_event *event,
		    struct session_effects *effects);

/* While choosing. */
void choices_next(struct session *session, const struct session_event *event,
		  struct session_effects *effects);
void choices_take(struct session *session, const struct session_event *event,
		  struct session_effects *effects);
void choices_leave(struct session *session, struct session_effects *effects);
void choices_stay_open(struct session *session, int64_t now_us);

#endif
