/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Chunks of RIFF files: Multimedia Programming Interface and Data Specifications 1.0 (IBM,
 * Microsoft 1991); of RF64: EBU Tech 3306. */
#include "recording/sound_chunks.h"

#include <string.h>

#include "base/bytes.h"
#include "base/status.h"

enum {
    FORM_BYTES = 12, /* "RIFF", length, "WAVE" */
    CHUNK_BYTES = 8, /* name, length */
    CHUNKS_MOST = 64,
    FORMAT_BYTES = 16,
    BLOCK_ALIGN = 12,     /* within the format chunk */
    WIDE_DATA_LENGTH = 8, /* within the chunk ds64 */
};

/* What writers put where they do not know the length: nothing, all ones, or the largest signed
 * number less some header. */
static const int64_t ALL_ONES = 0xffffffff;
static const int64_t LARGEST_SIGNED = 0x7fffffff;
static const int64_t HEADER_ROOM = 1 << 12;

static int64_t wide(const uint8_t *p)
{
    return (int64_t)(wfi_le32(p) | (uint64_t)(wfi_le32(p + 4) & 0x7fffffff) << 32);
}

static bool is_name(const uint8_t *p)
{
    for (int i = 0; i < 4; i++)
        if (p[i] < ' ' || p[i] > '~')
            return false;
    return true;
}

static wf_status read_at(const wfi_input_file *file, int64_t offset, uint8_t *out, size_t n,
                         bool *whole, wf_error *err)
{
    size_t n_read = 0;
    WFI_TRY(wfi_input_file_read(file, offset, out, n, &n_read, err));
    *whole = n_read == n;
    return WF_OK;
}

/* A chunk before the samples that says something of them. */
static wf_status take_chunk(wfi_sound_chunks *c, const wfi_input_file *file, const uint8_t *head,
                            int64_t at, int64_t *wide_at, wf_error *err)
{
    uint8_t body[FORMAT_BYTES];
    bool whole = false;
    const bool is_format = memcmp(head, "fmt ", 4) == 0;
    if (!is_format && memcmp(head, "ds64", 4) != 0)
        return WF_OK;
    WFI_TRY(read_at(file, at + CHUNK_BYTES, body, sizeof body, &whole, err));
    if (whole && is_format)
        c->sample_bytes = body[BLOCK_ALIGN] | body[BLOCK_ALIGN + 1] << 8;
    else if (whole) {
        *wide_at = at + CHUNK_BYTES + WIDE_DATA_LENGTH;
        c->stated = wide(body + WIDE_DATA_LENGTH);
    }
    return WF_OK;
}

/* Walk to the chunk of samples. */
static wf_status find_data(wfi_sound_chunks *c, const wfi_input_file *file, bool *found,
                           wf_error *err)
{
    int64_t wide_at = 0;
    int64_t at = FORM_BYTES;
    *found = false;
    for (int i = 0; i < CHUNKS_MOST; i++) {
        uint8_t head[CHUNK_BYTES];
        bool whole = false;
        WFI_TRY(read_at(file, at, head, sizeof head, &whole, err));
        if (!whole || !is_name(head))
            return WF_OK;
        const int64_t length = wfi_le32(head + 4);
        if (memcmp(head, "data", 4) == 0) {
            c->wide = wide_at > 0 && length == ALL_ONES;
            c->field_offset = c->wide ? wide_at : at + 4;
            c->stated = c->wide ? c->stated : length;
            c->data_offset = at + CHUNK_BYTES;
            c->available = file->n_bytes - c->data_offset;
            *found = c->available >= 0;
            return WF_OK;
        }
        WFI_TRY(take_chunk(c, file, head, at, &wide_at, err));
        at += CHUNK_BYTES + length + length % 2;
    }
    return WF_OK;
}

/* Do chunks, or nothing, follow the samples? */
static wf_status check_end(const wfi_sound_chunks *c, const wfi_input_file *file, bool *right,
                           wf_error *err)
{
    uint8_t head[CHUNK_BYTES];
    const int64_t at = c->data_offset + c->stated + c->stated % 2;
    *right = file->n_bytes - at < CHUNK_BYTES;
    if (*right)
        return WF_OK;
    WFI_TRY(read_at(file, at, head, sizeof head, right, err));
    *right =
        *right && is_name(head) && at + CHUNK_BYTES + (int64_t)wfi_le32(head + 4) <= file->n_bytes;
    return WF_OK;
}

static bool is_unfilled(const wfi_sound_chunks *c)
{
    return c->wide ? c->stated == INT64_MAX
                   : c->stated > ALL_ONES - HEADER_ROOM ||
                         (c->stated > LARGEST_SIGNED - HEADER_ROOM && c->stated <= LARGEST_SIGNED);
}

static wf_status judge(wfi_sound_chunks *c, const wfi_input_file *file, wf_error *err)
{
    const int64_t beyond = c->available - c->stated;
    bool right = false;
    if (beyond < 0) {
        c->length = is_unfilled(c) ? WFI_SOUND_LENGTH_OPEN : WFI_SOUND_LENGTH_CUT;
        return WF_OK;
    }
    WFI_TRY(check_end(c, file, &right, err));
    if (right && (c->stated > 0 || beyond == 0))
        c->length = WFI_SOUND_LENGTH_RIGHT;
    else if (c->stated == 0)
        c->length = WFI_SOUND_LENGTH_OPEN;
    else
        c->length = !c->wide && beyond > ALL_ONES - HEADER_ROOM ? WFI_SOUND_LENGTH_WRAPPED
                                                                : WFI_SOUND_LENGTH_SHORT;
    return WF_OK;
}

wf_status wfi_sound_chunks_read(wfi_sound_chunks *out, const wfi_input_file *file, wf_error *err)
{
    uint8_t form[FORM_BYTES];
    bool whole = false;
    bool found = false;
    *out = (wfi_sound_chunks){0};
    WFI_TRY(read_at(file, 0, form, sizeof form, &whole, err));
    if (!whole || memcmp(form + 8, "WAVE", 4) != 0 ||
        (memcmp(form, "RIFF", 4) != 0 && memcmp(form, "RF64", 4) != 0))
        return WF_OK;
    WFI_TRY(find_data(out, file, &found, err));
    return found ? judge(out, file, err) : WF_OK;
}

static bool is_mended(const wfi_sound_chunks *c)
{
    return c->length == WFI_SOUND_LENGTH_OPEN || c->length == WFI_SOUND_LENGTH_WRAPPED;
}

bool wfi_sound_chunks_exceed_header(const wfi_sound_chunks *c)
{
    return is_mended(c) && !c->wide && c->available > ALL_ONES && c->sample_bytes > 0;
}

void wfi_sound_chunks_mend(const wfi_sound_chunks *c, int64_t offset, uint8_t *bytes, int64_t n)
{
    if (!is_mended(c))
        return;
    const uint64_t length = c->wide ? (uint64_t)c->available : (uint64_t)ALL_ONES;
    for (int i = 0; i < (c->wide ? 8 : 4); i++) {
        const int64_t at = c->field_offset + i - offset;
        if (at >= 0 && at < n)
            bytes[at] = (uint8_t)(length >> 8 * i & 0xff);
    }
}
