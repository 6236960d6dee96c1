/* Between the files of the page of many jobs. */
#ifndef REPORT_OVERVIEW_H
#define REPORT_OVERVIEW_H

#include "base/text.h"
#include "review/overview.h"

/* A page stays a page: this many groups, and the newest so many jobs of each. */
enum { OVERVIEW_GROUPS = 12, OVERVIEW_JOBS = 60 };

/* A finished job; the names belong to the overview. */
struct overview_job {
	int64_t job;
	int64_t created_us;
	const char *stringer;
	const char *pattern;
	const char *method;
	double work_us;
};

struct overview_page {
	struct text *out;
	struct review_overview overview;
	struct overview_job *jobs; /* in the order in which they were begun */
	size_t job_count;
};

/* "mira, open-16x19, two-piece": what a group shares. The caller frees it. */
char *overview_group_name(const struct review_group *group);

/* Sections of the page. */
void overview_add_charts(const struct overview_page *page);
void overview_add_learning(const struct overview_page *page);

#endif
