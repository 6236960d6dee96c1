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

/* Prints the page's address and serves it for ever (serve.c). Returns with errno if it cannot. The
 * port may be left to the system. An empty token lets everybody look. */
void serve(const struct sockaddr_in *address, const char *token, bool steer,
	   const struct board_words *words);

/* Files of this folder, embedded at build time (embed.cmake). */
extern const char board_css[], board_js[], page_html[], steer_html[], entrance_html[];

#endif
