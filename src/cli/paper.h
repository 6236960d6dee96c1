/* The whole job on paper: a table that a person can follow, and the JSON of the contract. */
#ifndef CLI_PAPER_H
#define CLI_PAPER_H

#include "base/json.h"
#include "base/text.h"
#include "phrase/phrasebook.h"
#include "sequence/sequence.h"

void paper_table(const struct sequence *sequence, const struct phrasebook *book,
		 const struct phrase_options *options, struct text *out);
void paper_json(const struct sequence *sequence, const struct phrasebook *book,
		const struct phrase_options *options, struct text *out);

/* One-piece routes: a list to choose from; one of them in words, or as a member of an object. */
void paper_routes(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		  struct text *out);
void paper_routes_json(const struct job *job, const struct pattern *pattern,
		       const struct routes *routes, struct text *out);
void paper_route(const struct job *job, const struct pattern *pattern, const struct route *route,
		 struct text *out);
void paper_route_json(const struct pattern *pattern, const struct route *route, const char *key,
		      struct json *json);

#endif
