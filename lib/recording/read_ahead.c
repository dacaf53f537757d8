/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _GNU_SOURCE /* preadv2 */
#include "recording/read_ahead.h"

#include <stdbool.h>
#include <sys/types.h>
#include <sys/uio.h>

/* What the fastest disks give within some milliseconds, and slow ones in a tenth of a second. */
enum { AHEAD_BYTES = 8 << 20 };

/* Costs far less than asking for what is there. */
static bool is_in_memory(const wfi_input_file *file, int64_t offset)
{
    uint8_t byte;
    const struct iovec part = {.iov_base = &byte, .iov_len = 1};
    return preadv2(file->fd, &part, 1, (off_t)offset, RWF_NOWAIT) == 1;
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

void wfi_read_ahead_follow(wfi_read_ahead *ahead, const wfi_input_file *file, int64_t offset,
                           size_t n)
{
    const int64_t end = offset + (int64_t)n;
    const bool goes_on =
        ahead->file == file && end > ahead->end && offset <= ahead->end + AHEAD_BYTES;
    ahead->file = file;
    ahead->end = end;
    ahead->forward = goes_on ? ahead->forward + (int64_t)n : (int64_t)n;
    if (!goes_on || ahead->asked < end)
        ahead->asked = end;
    const int64_t reach = least(ahead->forward, AHEAD_BYTES);
    const int64_t wanted = least(end + reach, file->n_bytes);
    if (!goes_on || ahead->asked - end > reach / 2 || wanted <= ahead->asked)
        return;
    if (!is_in_memory(file, wanted - 1))
        wfi_input_file_will_need(file, ahead->asked, wanted - ahead->asked);
    ahead->asked = wanted;
}
