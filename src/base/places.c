#include "base/places.h"

#include "base/fault.h"
#include "base/memory.h"
#include "base/text.h"

#include <glob.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
	const char *folder;
	const char *variable;
} kinds[] = {
	[PLACE_PATTERNS] = {"patterns", "PULLCALL_PATTERNS"},
	[PLACE_VOICE] = {"voice", "PULLCALL_VOICE"},
};

static const char *set_variable(const char *name)
{
	const char *value = getenv(name);

	return value && *value ? value : NULL;
}

/* A relative path in an XDG variable must be ignored, says the specification. */
static char *under_home(const char *variable, const char *otherwise, const char *name)
{
	const char *base = set_variable(variable);

	if (base && *base == '/')
		return memory_format("%s/pullcall/%s", base, name);
	const char *home = set_variable("HOME");
	return home ? memory_format("%s/%s/pullcall/%s", home, otherwise, name) : NULL;
}

char *place_config(const char *name)
{
	return under_home("XDG_CONFIG_HOME", ".config", name);
}

char *place_data(const char *name)
{
	return under_home("XDG_DATA_HOME", ".local/share", name);
}

char *place_runtime(void)
{
	const char *base = set_variable("XDG_RUNTIME_DIR");

	return base && *base == '/' ? memory_format("%s/pullcall", base) : NULL;
}

char *place_program(void)
{
	char path[PATH_MAX];
	ssize_t length = readlink("/proc/self/exe", path, sizeof(path) - 1);

	if (length <= 0)
		return NULL;
	path[length] = '\0';
	char *slash = strrchr(path, '/');
	if (slash)
		*slash = '\0';
	return memory_copy(path);
}

int place_folders(enum place_kind kind, char *folders[static 3])
{
	int count = 0;
	const char *named = set_variable(kinds[kind].variable);
	char *users = place_data(kinds[kind].folder);
	char *program = place_program();

	if (named)
		folders[count++] = memory_copy(named);
	if (users)
		folders[count++] = users;
	if (program)
		folders[count++] =
			memory_format("%s/../share/pullcall/%s", program, kinds[kind].folder);
	free(program);
	return count;
}

static char *folder_of(const char *file)
{
	const char *slash = strrchr(file, '/');

	return slash ? memory_copy_part(file, (size_t)(slash - file)) : memory_copy(".");
}

/* Takes folder. */
static char *try_folder(char *folder, const char *name, struct text *looked)
{
	char *path = memory_format("%s/%s.yaml", *folder ? folder : "/", name);

	text_format(looked, "%s%s", looked->length ? ", " : "", folder);
	free(folder);
	if (access(path, F_OK) == 0)
		return path;
	free(path);
	return NULL;
}

char *place_find(enum place_kind kind, const char *name, const char *beside, char **looked)
{
	struct text tried = {0};
	char *folders[4];
	int count = 0;
	char *found = NULL;

	*looked = NULL;
	if (beside)
		folders[count++] = folder_of(beside);
	count += place_folders(kind, folders + count);
	for (int i = 0; i < count; i++) {
		if (found)
			free(folders[i]);
		else
			found = try_folder(folders[i], name, &tried);
	}
	if (found)
		text_free(&tried);
	else
		*looked = text_take(&tried);
	return found;
}

/* The stem of a path that ends in ".yaml"; the caller frees it. */
static char *stem_of(const char *path)
{
	const char *name = strrchr(path, '/') + 1;

	return memory_copy_part(name, strlen(name) - strlen(".yaml"));
}

char *place_nearest(enum place_kind kind, const char *name)
{
	char *folders[3];
	int count = place_folders(kind, folders);
	glob_t found = {0};

	for (int i = 0; i < count; i++) {
		char *files = memory_format("%s/*.yaml", folders[i]);
		glob(files, i > 0 ? GLOB_APPEND : 0, NULL, &found);
		free(files);
		free(folders[i]);
	}
	char **stems = memory_new(found.gl_pathc + 1, sizeof(*stems));
	for (size_t i = 0; i < found.gl_pathc; i++)
		stems[i] = stem_of(found.gl_pathv[i]);
	const char *nearest = fault_did_you_mean(name, (const char *const *)stems);
	char *copy = nearest ? memory_copy(nearest) : NULL;
	for (size_t i = 0; i < found.gl_pathc; i++)
		free(stems[i]);
	free(stems);
	globfree(&found);
	return copy;
}
