/* Where a byte of a scalar's text stands in the file, for faults that point into a sentence. */
#ifndef PHRASE_LOCATE_H
#define PHRASE_LOCATE_H

#include "base/yaml.h"

/* As near as can be told: past an escape or in a block scalar it is the place last known. */
struct position locate_in(const struct yaml_node *node, size_t offset);

#endif
