/* A device as the list shows it (pedal.h). */
#ifndef PEDAL_INFO_H
#define PEDAL_INFO_H

#include "pedal/inventory.h"
#include "pedal/pedal.h"

/* Owns what it points to: pedal_list_free. */
struct pedal_info info_of(const struct input_device *device);

#endif
