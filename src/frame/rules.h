/* What the rules of the sports allow a racket to be.
 *
 * A racket outside them exists and can be strung, so these are warnings, each naming its rule:
 *   - tennis: ITF Rules of Tennis, Appendix II b and c
 *   - badminton: BWF Laws of Badminton, Law 4
 *   - squash: WSF racket specification (Appendix 4)
 *   - racquetball: USA Racquetball Official Rules 2.4 limits the whole racket only, which a head
 *     that pattern_read takes for plausible cannot exceed
 */
#ifndef FRAME_RULES_H
#define FRAME_RULES_H

#include "base/yaml.h"
#include "frame/pattern.h"

void rules_check(const struct yaml_node *root, const struct pattern *pattern);

/* Whether a bed is less dense in its centre than elsewhere: the distances between its strings, in
 * order from edge to edge. The centre is the middle third; elsewhere is any other run of as many.
 */
bool bed_is_thin_in_centre(const double *gaps_mm, int count);

#endif
