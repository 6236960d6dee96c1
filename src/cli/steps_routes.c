/* One-piece routes on paper. */
#include "cli/cli.h"
#include "sequence/sequence.h"

/* How many consecutive crosses begin at step `at`. */
static int run_length(const struct route *route, int at)
{
	int count = 1;

	while (at + count < route->count &&
	       route->steps[at + count] == route->steps[at + count - 1] + 1)
		count++;
	return count;
}

static void add_run(struct text *out, int first, int last)
{
	if (first == last)
		text_format(out, "cross %d", first);
	else
		text_format(out, "crosses %d %s %d", first, last == first + 1 ? "and" : "to", last);
}

static struct hole main_hole(const struct pattern *pattern, enum frame_end end)
{
	return (struct hole){end, pattern->main_hole[end][pattern_half(pattern)]};
}

static void add_main(struct text *out, const struct job *job, const struct pattern *pattern,
		     const struct route *route)
{
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];

	text_format(out, "main %d %s from %s to %s", pattern_half(pattern),
		    side_name(job->weave_side),
		    hole_text(main_hole(pattern, route->main_from), from),
		    hole_text(main_hole(pattern, other_end(route->main_from)), to));
}

void route_words(const struct job *job, const struct pattern *pattern, const struct route *route,
		 struct text *out)
{
	for (int at = 0; at < route->count;) {
		int count = 1, cross = route->steps[at];
		text_add(out, at ? ", " : "");
		if (cross == 0) {
			add_main(out, job, pattern, route);
		} else {
			count = run_length(route, at);
			add_run(out, cross, cross + count - 1);
		}
		at += count;
	}
}

void routes_table(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		  struct text *out)
{
	text_format(out, "%s (%s) in one piece, long side %s\n\n", job->name, pattern->name,
		    side_name(job->weave_side));
	text_add(out, "route  breaks  outside  way of the long side after its mains\n");
	for (int i = 0; i < routes->count; i++) {
		const struct route *route = &routes->items[i];
		text_format(out, "%5d  %6d  %7d  ", i + 1, route->breaks, route->outside);
		route_words(job, pattern, route, out);
		text_format(out, "%s\n", i + 1 == job->route ? " (this plan's)" : "");
	}
	text_add(out, "\nbreaks: crosses not woven right after the one numbered one less. outside: "
		      "holes run\nalong outside the frame. To take another route, write "
		      "\"order: { route: NUMBER }\".\n");
	if (routes->more)
		text_add(out, "There are others with as few breaks.\n");
}

static void add_step(struct json *json, const struct pattern *pattern, const struct route *route,
		     int cross)
{
	char label[HOLE_TEXT_MAX];

	json_open(json, NULL, '{');
	json_string(json, "string", cross ? "cross" : "main");
	json_int(json, "number", cross ? cross : pattern_half(pattern));
	if (cross == 0) {
		json_string(json, "from", hole_text(main_hole(pattern, route->main_from), label));
		json_string(json, "to",
			    hole_text(main_hole(pattern, other_end(route->main_from)), label));
	}
	json_close(json, '}');
}

void route_json(const struct pattern *pattern, const struct route *route, const char *key,
		struct json *json)
{
	json_open(json, key, '{');
	json_int(json, "breaks", route->breaks);
	json_int(json, "outside", route->outside);
	if (route->outside_mm > 0)
		json_number(json, "outside_mm", route->outside_mm, 0);
	json_open(json, "steps", '[');
	for (int i = 0; i < route->count; i++)
		add_step(json, pattern, route, route->steps[i]);
	json_close(json, ']');
	json_close(json, '}');
}

void routes_json(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		 struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_string(&json, "job", job->name);
	json_string(&json, "pattern", pattern->name);
	json_int(&json, "route", job->route);
	json_bool(&json, "more", routes->more);
	json_open(&json, "routes", '[');
	for (int i = 0; i < routes->count; i++) {
		json_line(&json, 1);
		route_json(pattern, &routes->items[i], NULL, &json);
	}
	json_close(&json, ']');
	json_close(&json, '}');
	text_add_char(out, '\n');
}
