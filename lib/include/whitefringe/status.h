/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How every function of the library says what went wrong. */
#ifndef WHITEFRINGE_STATUS_H
#define WHITEFRINGE_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define WF_API __attribute__((visibility("default")))
#define WF_MUST_CHECK __attribute__((warn_unused_result))
#else
#define WF_API
#define WF_MUST_CHECK
#endif

/** Every status, with the words that stand for it. */
#define WF_STATUS_MAP(X)                                                                           \
    X(OK, "done")                                                                                  \
    X(END, "no more data")                                                                         \
    X(ARGUMENT, "the caller broke the contract")                                                   \
    X(FORMAT, "the input is not what its standard says")                                           \
    X(UNSUPPORTED, "valid, but not handled")                                                       \
    X(RANGE, "outside what tables or data cover")                                                  \
    X(MISSING, "a needed thing is not there")                                                      \
    X(IO, "the system refused")                                                                    \
    X(MEMORY, "out of memory")                                                                     \
    X(CANCELLED, "stopped on request")

typedef enum wf_status {
#define WF_STATUS_ENUM(name, text) WF_##name,
    WF_STATUS_MAP(WF_STATUS_ENUM)
#undef WF_STATUS_ENUM
} wf_status;

/** What went wrong, for a human: place, expected, found, what to do.
 *
 *  The caller owns it and may pass NULL where it is not interested. The first error wins: a
 *  function that is handed an error already set leaves it as it is. Start from WF_ERROR_INIT.
 */
typedef struct wf_error {
    wf_status status;
    char message[1024];
} wf_error;

#define WF_ERROR_INIT                                                                              \
    {                                                                                              \
        WF_OK, ""                                                                                  \
    }

/** A suspicion that does not stop the work, handed to whoever gave the sink. */
typedef void (*wf_warn)(void *context, const char *message);

/** The words for a status; never NULL. */
WF_API const char *wf_status_text(wf_status status);

#ifdef __cplusplus
}
#endif

#endif
