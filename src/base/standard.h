/* Standard input, output and error, whoever started the program. */
#ifndef BASE_STANDARD_H
#define BASE_STANDARD_H

/* To be called first in main: keeps the number of a standard file that was handed over closed,
 * which fails to be used as before. Else the next file opened, the journal say, would take that
 * number, and be read for keys or get the messages. */
void standard_files_open(void);

#endif
