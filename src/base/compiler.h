/* The compiler extensions that we use, each behind a macro that plain C11 can leave empty. */
#ifndef SL_BASE_COMPILER_H
#define SL_BASE_COMPILER_H

#if defined(__GNUC__)
#define SL_PRINTF(text, first) __attribute__((format(printf, text, first)))
#else
#define SL_PRINTF(text, first)
#endif

#endif
