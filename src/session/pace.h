/* How long the rest of a job will take, from how long its calls have taken so far.
 *
 * Every call has a weight: seconds that a practised hand takes for such a call. This job's own pace
 * is work done divided by the weights of the calls done; what is left is the weights left at that
 * pace. The first calls say little, so the usual pace counts as if some calls had been done at it.
 */
#ifndef SESSION_PACE_H
#define SESSION_PACE_H

#include "session/session.h"

/* weight_s: by call, from 1. Never negative. */
int64_t pace_left_us(const struct session *session, const double *weight_s, int64_t now_us);

/* Work per weight: 1 is the usual pace, 2 takes twice as long. */
double pace_ratio(const struct session *session, const double *weight_s);

#endif
