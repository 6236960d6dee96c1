/* How a page looks: the ink, the greys and the one colour of the pictures (draw/style.h). */
#ifndef REPORT_STYLE_H
#define REPORT_STYLE_H

#include "base/text.h"

void style_add(struct text *out);

#endif
