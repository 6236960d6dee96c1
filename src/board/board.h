/* The board: a page for a tablet or a second screen at the bench, served to browsers.
 *
 * A program of its own, so that a web server's faults and libraries stay away from the daemon and
 * from the commands. It is a client of the control socket like any other: after every event it asks
 * for the status and turns it into HTML, the picture. Browsers get the picture with the page and,
 * as server-sent events, whenever it changes.
 *
 * Who may ask: on a loopback address everybody on this machine may look; with a token, only those
 * who have it. A request must name as its host the very address at which it arrived, and no other
 * origin, so that no page from elsewhere can read the board or steer through it. It reads no file
 * but the one with the token, and only the paths in serve.c lead anywhere.
 */
#ifndef BOARD_BOARD_H
#define BOARD_BOARD_H

#include "base/base.h"

#include <netinet/in.h>
#include <stdbool.h>

/* Who may ask (access.c). */

/* "127.0.0.1:8077" (IPv4; port 0: any free one). False if it is not an address. */
bool address_parse(const char *text, struct sockaddr_in *out);
bool address_is_loopback(const struct sockaddr_in *address);

/* HOST:PORT as a browser writes it, without HTTP's own port; host NULL: the address in numbers. The
 * caller frees it. */
char *authority(const char *host, const struct sockaddr_in *address);

/* A token is the one line of a file that only its owner can read: letters, digits, - and _. False
 * with *why (static text). */
enum { TOKEN_MIN = 16, TOKEN_MAX = 128 };
bool token_read(const char *path, char token[static TOKEN_MAX + 1], const char **why);

/* Compares in constant time. */
bool token_is(const char *token, const char *given);

/* Whether a request on the connected socket `fd` names this server as its host, and the page that
 * sent it as one of ours. */
bool host_is_ours(int fd, const char *host);
bool origin_is_ours(const char *origin, const char *host);

/* What the page shows (picture.c, bed.c). */

/* Adds the <main> element that shows an answer of the daemon; NULL: there is no daemon. One line,
 * as an event must be. */
void picture_add(struct text *out, const struct yaml_node *answer);

/* The scalar of that name in a map of the answer; "" if it is not there, or the map is NULL. */
const char *word(const struct yaml_node *map, const char *key);

/* A bed, schematic: its strings evenly spaced in an ellipse, seen from the face, head at the top.
 */
struct bed_picture {
	int mains; /* of one side */
	int crosses;
	bool crosses_from_throat;
	uint64_t mains_in[2]; /* by side, left first; a bit each, string 1 being bit 1 */
	uint64_t crosses_in;
	bool calls_main, calls_cross; /* what the call is about */
	int number;                   /* of that string */
	int side;                     /* of that main; where that cross is worked on */
};

void bed_add(struct text *out, const struct bed_picture *bed);

/* The daemon (link.c). */

struct link {
	int fd; /* watches: readable when something has happened. -1: no daemon */
	int64_t asked_us;
	bool calling; /* the clock of work runs */
	struct text picture;
};

/* Call it every LINK_WAIT_MS while there is no daemon, when the descriptor is readable, and now and
 * then while somebody is watching. True if the picture has changed. */
enum { LINK_WAIT_MS = 500 };
bool link_turn(struct link *link, bool readable, bool looked_at);

/* Has the daemon do it. NULL if it was done, else the reason why not, for the caller to free. */
char *link_steer(const char *verb);

/* Browsers (serve.c): serves at a listening socket for ever, or returns if it cannot. An empty
 * token lets everybody look. */
void serve(int fd, const char *token, bool steer);

/* Files of this folder, embedded at build time (embed.cmake). */
extern const char board_css[], board_js[], page_html[], steer_html[], entrance_html[];

#endif
