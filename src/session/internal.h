/* Shared by the files of this room: session.c has the rules and choices.c the choices by pedal;
 * both are put together from the steps of teaching.c. */
#ifndef SESSION_INTERNAL_H
#define SESSION_INTERNAL_H

#include "session/session.h"

/* What an event does: adds what to say, then what to write. False as in session_step. */
typedef bool session_handler(struct session *session);

/* ---- teaching.c ---- */

/* What is said after something else of the same event waits until that has ended. */
struct session_effect *effect_add(const struct session *session, enum session_effect_kind kind);
struct session_effect *effect_say(const struct session *session, enum notice notice);
struct session_effect *effect_write(const struct session *session, enum journal_kind record);

/* What the job goes on with: the station before the call, else the call; `again`: in full. */
void effect_say_call(struct session *session, bool again);

/* The call is left for the next one, or for the station before that. */
void teaching_leave(struct session *session);

/* What a record says about the trainee. */
void teaching_record(struct session *session, const struct session_effect *effect, int64_t boot_us);

session_handler teaching_answer, teaching_pass, teaching_found;

/* Keeps where the job is, for an UNDO. */
void session_remember(struct session *session);

void session_pause(struct session *session);
void session_go_on(struct session *session);

/* The reason for the current call, said and written; and the end of the run. */
session_handler session_why, session_end;

/* ---- choices.c ---- */

/* Opens them, or says again the one said last; the others while they are open. */
session_handler choices_open, choices_next, choices_take, choices_leave;

/* A long hold says the strings of a redo, one after another; it is no press. */
session_handler choices_held;

/* They close so long after the event. */
void choices_stay_open(struct session *session);

#endif
