#include "daemon/internal.h"

#include "base/base.h"

#include <stdlib.h>

enum { COUNT_MAX = 10000, TEXT_BYTES_MAX = 2048 };

static const char *const verbs[CONTROL_VERBS + 1] = {
	[CONTROL_NEXT] = "next",       [CONTROL_AGAIN] = "again",     [CONTROL_BACK] = "back",
	[CONTROL_PAUSE] = "pause",     [CONTROL_RESUME] = "resume",   [CONTROL_WHERE] = "where",
	[CONTROL_WHY] = "why",         [CONTROL_CHOICES] = "choices", [CONTROL_REDO] = "redo",
	[CONTROL_SLIPPED] = "slipped", [CONTROL_BROKE] = "broke",     [CONTROL_FULLER] = "fuller",
	[CONTROL_SHORTER] = "shorter", [CONTROL_LOUDER] = "louder",   [CONTROL_SOFTER] = "softer",
	[CONTROL_STOP] = "stop",       [CONTROL_QUIET] = "quiet",     [CONTROL_LOUD] = "loud",
	[CONTROL_ABANDON] = "abandon", [CONTROL_LOAD] = "load",       [CONTROL_WATCH] = "watch",
	[CONTROL_STATUS] = "status",   [CONTROL_VERBS] = NULL,
};

const char *control_verb_name(enum control_verb verb)
{
	return verbs[verb];
}

void request_refuse(struct text *reply, const char *why)
{
	struct json json = {.out = reply};

	json_open(&json, NULL, '{');
	json_bool(&json, "ok", false);
	json_string(&json, "error", why);
	json_close(&json, '}');
}

void request_free(struct request *request)
{
	free(request->text);
	request->text = NULL;
}

static bool read_request(const struct yaml_node *root, struct request *request)
{
	static const char *const keys[] = {"do",   "count",  "file",   "new",
					   "open", "reason", "string", NULL};
	const char *text;
	int verb;

	yaml_is_map(root, keys);
	if (root->document->faults->errors > 0 || !yaml_choice(yaml_need(root, "do"), verbs, &verb))
		return false;
	request->verb = (enum control_verb)verb;
	const struct yaml_node *count = yaml_get(root, "count");
	if (count && !yaml_int(count, 1, COUNT_MAX, &request->count))
		return false;
	static const char *const truths[] = {"false", "true", NULL};
	int anew = 0;
	yaml_choice(yaml_get(root, "new"), truths, &anew);
	request->anew = anew;
	const struct yaml_node *node = NULL;
	request->reopen = request->verb == CONTROL_LOAD && yaml_get(root, "open");
	if (request->verb == CONTROL_LOAD)
		node = yaml_need(root, request->reopen ? "open" : "file");
	else if (request->verb == CONTROL_ABANDON)
		node = yaml_need(root, "reason");
	else if (request->verb == CONTROL_REDO)
		node = yaml_need(root, "string");
	else
		return true;
	if (!yaml_text(node, TEXT_BYTES_MAX, &text))
		return false;
	request->text = memory_copy(text);
	return true;
}

bool request_parse(const char *line, size_t length, struct request *request, struct text *reply)
{
	struct faults faults = {0};

	*request = (struct request){.count = 1};
	struct yaml_document *document = yaml_read_json("request", line, length, &faults);
	bool good = document && read_request(document->root, request);
	if (!good)
		request_refuse(reply, faults.count ? faults.items[0].text : "not a request");
	yaml_free(document);
	faults_free(&faults);
	return good;
}
