#ifndef DAEMON_VERSION_H
#define DAEMON_VERSION_H

/* PULLCALL_VERSION comes from the project's version in CMakeLists.txt. */
#define PULLCALL_PROGRAM "pullcall " PULLCALL_VERSION

#endif
