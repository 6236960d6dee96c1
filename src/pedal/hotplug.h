/* Tells when input devices come, go or change their permissions.
 *
 * inotify on the folder of the event nodes, not the udev monitor: it works where no udev runs, and
 * the attribute change it reports is the very thing waited for, the moment when a node that
 * appeared unreadable has been given to the person at the bench. The folder itself comes with the
 * first device and goes with the last.
 */
#ifndef PEDAL_HOTPLUG_H
#define PEDAL_HOTPLUG_H

#include <stdbool.h>

struct hotplug {
	int fd;     /* readable when something may have changed; -1: cannot watch */
	int folder; /* watch of the folder; -1 while there is none */
	int parent; /* watch of the folder above, while there is no folder; else -1 */
	const char *input_dir;
};

/* False when nothing can be watched (errno says why); *hotplug is then usable and silent. */
bool hotplug_open(struct hotplug *hotplug, const char *input_dir);
void hotplug_close(struct hotplug *hotplug);

/* Reads what is waiting; true when it is time to look at the folder. */
bool hotplug_read(struct hotplug *hotplug);

#endif
