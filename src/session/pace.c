#include "session/session.h"

#include "base/base.h"

/* So many seconds at the usual pace stand for what is not known yet. Our choice: about three
 * strings. */
static const double assumed_s = 60;

double pace_ratio(const struct session *session, const struct script *script)
{
	double worked_s = assumed_s;
	double usual_s = assumed_s;

	if (session->call <= PACE_MIN_CALLS)
		return 1;
	for (int call = 1; call < session->call && call <= session->calls; call++) {
		/* A call that was walked over in no time, on the way back or forth, says nothing.
		 */
		if (session->spent_us[call] == 0)
			continue;
		worked_s += (double)session->spent_us[call] / (double)SECOND_US;
		usual_s += script_line(script, call)->weight_s;
	}
	return worked_s / usual_s;
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
