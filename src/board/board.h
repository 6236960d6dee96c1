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
#include "phrase/phrase.h"

#include <netinet/in.h>
#include <stdbool.h>

/* HOST:PORT as a browser writes it, without HTTP's own port; host NULL: the address in numbers. The
 * caller frees it. */
char *authority(const char *host, const struct sockaddr_in *address);
bool address_is_loopback(const struct sockaddr_in *address);

enum { TOKEN_MIN = 16, TOKEN_MAX = 128 };

/* What the page shows (page.c), in the language of the bench. */

struct board_words {
	const char *language;
	const struct phrasebook *book;
};

/* Adds a file of this folder: for {key} a word of the phrasebook, for {language} its language. */
void page_add(struct text *out, const char *html, const struct board_words *words);

/* Adds the <main> element that shows an answer of the daemon; NULL: there is no daemon. One line,
 * as an event must be. */
void picture_add(struct text *out, const struct board_words *words, const struct yaml_node *answer);

/* The scalar of that name in a map of the answer; "" if it is not there, or the map is NULL. */
const char *word(const struct yaml_node *map, const char *key);

/* The daemon (link.c). */

struct link {
	const struct board_words *words;
	int fd; /* watches: readable when something has happened. -1: no daemon */
	int64_t asked_us;
	struct text picture;
};

/* Call it every LINK_WAIT_MS while there is no daemon, when the descriptor is readable, and now and
 * then while somebody is watching. True if the picture has changed. */
enum { LINK_WAIT_MS = 500 };
bool link_turn(struct link *link, bool readable, bool looked_at);

/* Has the daemon do it. False if it was not done. */
bool link_steer(const char *verb);

/* Browsers (serve.c): serves at a listening socket for ever, or returns if it cannot. An empty
 * token lets everybody look. */
void serve(int fd, const char *token, bool steer, const struct board_words *words);

/* Files of this folder, embedded at build time (embed.cmake). */
extern const char board_css[], board_js[], page_html[], steer_html[], entrance_html[];

#endif
