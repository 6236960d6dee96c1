/* What the tests with made-up devices share: pedals opened on them, time that passes as in an event
 * loop, and what came out as words. */
#ifndef TESTS_PEDAL_RIG_H
#define TESTS_PEDAL_RIG_H

#include "fake_input.h"

#include "base/base.h"
#include "pedal/pedal.h"

struct rig {
	struct presses *presses;
	struct text out;   /* gestures and events, separated by spaces */
	struct text notes; /* the texts of PEDAL_NOTE, one a line */
	int64_t last_us;   /* of the last gesture or event */
};

/* Pedals; config may be NULL: no bench file. */
struct rig *begin(const struct pedal_config *config);
/* Keys from fd too. */
void add_keys(struct rig *rig, int fd);
void end(struct rig *rig);

void dispatch(struct rig *rig);
void pass_ms(struct rig *rig, int64_t ms);
void press(struct rig *rig, struct fake_device *device, unsigned code, int64_t down_ms,
	   int64_t up_ms);

/* That exactly these words came out since the last time. */
void expect(struct rig *rig, const char *words);

/* Root may read everything; some tests are about a person who may not. */
void become_nobody(void);
void become_ourselves(void);
struct fake_device *fake_plug_unreadable(int number, const struct fake_spec *spec);

extern const struct fake_spec three_pedals; /* F14, F15, F16 */
extern const struct fake_spec one_pedal;    /* F14 */
extern const unsigned mouse_buttons[];
const unsigned *letters(void); /* most keys of a keyboard */
struct fake_spec keyboard(void);

/* One node of a programmable pedal that claims to be a keyboard, a mouse and something else, and
 * says in its name what it is. */
struct fake_spec part(const char *name, const char *phys, const unsigned *keys, bool mouse);

#define WITH_DEVICES(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)
int set_up(void **state);
int tear_down(void **state);

#endif
