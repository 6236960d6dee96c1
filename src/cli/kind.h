/* What kind of file a person named: it shows in the keys that only that kind has. */
#ifndef CLI_KIND_H
#define CLI_KIND_H

#include "base/yaml.h"

enum file_kind { FILE_PATTERN, FILE_JOB, FILE_PHRASEBOOK, FILE_BENCH };

enum file_kind file_kind_of(const struct yaml_document *document);

#endif
