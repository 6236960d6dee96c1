#include "session/session.h"

#include "base/base.h"

/* So many seconds at the usual pace stand for what is not known yet. Our choice: about three
 * strings. */
static const double assumed_s = 60;

/* Of the calls done that say something: a string was worked on, and the call was not walked over in
 * no time, on the way back or forth. */
struct done {
	int calls;
	double worked_s;
	double usual_s;
};

static struct done done_by(const struct session *session, const struct script *script)
{
	struct done done = {0};

	for (int call = 1; call < session->call && call <= session->calls; call++) {
		const struct script_line *line = script_line(script, call);
		if (!line->string || session->spent_us[call] == 0)
			continue;
		done.calls++;
		done.worked_s += (double)session->spent_us[call] / (double)SECOND_US;
		done.usual_s += line->weight_s;
	}
	return done;
}

bool pace_is_known(const struct session *session, const struct script *script)
{
	return done_by(session, script).calls >= PACE_MIN_CALLS;
}

double pace_ratio(const struct session *session, const struct script *script)
{
	struct done done = done_by(session, script);

	return done.calls < PACE_MIN_CALLS
		       ? 1
		       : (assumed_s + done.worked_s) / (assumed_s + done.usual_s);
}

int64_t pace_left_us(const struct session *session, const struct script *script, int64_t now_us)
{
	double left_s = 0;

	if (session->call > session->calls)
		return 0;
	for (int call = session->call; call <= session->calls; call++)
		left_s += script_line(script, call)->weight_s;
	left_s *= pace_ratio(session, script);
	double spent_s = (double)session_spent_us(session, now_us) / (double)SECOND_US;
	double current_s = script_line(script, session->call)->weight_s;
	left_s -= spent_s < current_s ? spent_s : current_s;
	return left_s > 0 ? (int64_t)(left_s * (double)SECOND_US) : 0;
}
