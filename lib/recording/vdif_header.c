/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fields and arithmetic of the VDIF header: specification release 1.1.1, sections 4 to 6. */
#include "recording/vdif_header.h"

#include "base/bytes.h"

/* Word and position of the fields. */
static uint32_t field(uint32_t word, unsigned lowest_bit, unsigned n_bits)
{
    return word >> lowest_bit & (n_bits < 32 ? (UINT32_C(1) << n_bits) - 1 : UINT32_MAX);
}

static uint32_t place(uint32_t value, unsigned lowest_bit, unsigned n_bits)
{
    return field(value, 0, n_bits) << lowest_bit;
}

bool wfi_vdif_header_decode(wfi_vdif_header *out, const uint8_t *bytes, size_t n)
{
    *out = (wfi_vdif_header){0};
    if (n < WFI_VDIF_LEGACY_HEADER_BYTES)
        return false;
    const uint32_t word[4] = {wfi_le32(bytes), wfi_le32(bytes + 4), wfi_le32(bytes + 8),
                              wfi_le32(bytes + 12)};
    out->invalid = field(word[0], 31, 1) != 0;
    out->legacy = field(word[0], 30, 1) != 0;
    out->second = field(word[0], 0, 30);
    out->epoch = field(word[1], 24, 6);
    out->frame = field(word[1], 0, 24);
    out->version = field(word[2], 29, 3);
    out->log2_channels = field(word[2], 24, 5);
    out->frame_bytes = 8 * field(word[2], 0, 24);
    out->is_complex = field(word[3], 31, 1) != 0;
    out->bits = 1 + field(word[3], 26, 5);
    out->thread = field(word[3], 16, 10);
    out->station = field(word[3], 0, 16);
    if (n < WFI_VDIF_HEADER_BYTES)
        return out->legacy;
    for (size_t i = 0; i < 4; i++)
        out->extended[i] = wfi_le32(bytes + 16 + 4 * i);
    return true;
}

size_t wfi_vdif_header_encode(uint8_t out[WFI_VDIF_HEADER_BYTES], const wfi_vdif_header *header)
{
    wfi_put_le32(out, place(header->invalid, 31, 1) | place(header->legacy, 30, 1) |
                          place(header->second, 0, 30));
    wfi_put_le32(out + 4, place(header->epoch, 24, 6) | place(header->frame, 0, 24));
    wfi_put_le32(out + 8, place(header->version, 29, 3) | place(header->log2_channels, 24, 5) |
                              place(header->frame_bytes / 8, 0, 24));
    wfi_put_le32(out + 12, place(header->is_complex, 31, 1) | place(header->bits - 1, 26, 5) |
                               place(header->thread, 16, 10) | place(header->station, 0, 16));
    if (header->legacy)
        return WFI_VDIF_LEGACY_HEADER_BYTES;
    for (size_t i = 0; i < 4; i++)
        wfi_put_le32(out + 16 + 4 * i, header->extended[i]);
    return WFI_VDIF_HEADER_BYTES;
}

wfi_vdif_bits wfi_vdif_header_bits(const wfi_vdif_header *header)
{
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    wfi_vdif_header_encode(bytes, header);
    return (wfi_vdif_bits){.flags = place(header->legacy, 30, 1),
                           .cut = wfi_le32(bytes + 8) & WFI_VDIF_CUT_MASK,
                           .kind = wfi_le32(bytes + 12) & WFI_VDIF_KIND_MASK};
}

uint32_t wfi_vdif_header_bytes(const wfi_vdif_header *header)
{
    return header->legacy ? WFI_VDIF_LEGACY_HEADER_BYTES : WFI_VDIF_HEADER_BYTES;
}

uint64_t wfi_vdif_sample_bits(const wfi_vdif_header *header)
{
    return (uint64_t)header->bits * (header->is_complex ? 2 : 1) << header->log2_channels;
}

int64_t wfi_vdif_samples_per_frame(const wfi_vdif_header *header)
{
    enum { WORD_BITS = 32 };
    const uint32_t header_bytes = wfi_vdif_header_bytes(header);
    if (header->frame_bytes <= header_bytes)
        return 0;
    const uint64_t payload_bits = UINT64_C(8) * (header->frame_bytes - header_bytes);
    const uint64_t sample_bits = wfi_vdif_sample_bits(header);
    if ((sample_bits & (sample_bits - 1)) == 0)
        return (int64_t)(payload_bits / sample_bits);
    /* a complete sample never straddles a word; the bits that are left over are not used */
    return (int64_t)(payload_bits / WORD_BITS * (WORD_BITS / sample_bits));
}

const char *wfi_vdif_header_fault(const wfi_vdif_header *header)
{
    if (header->frame_bytes <= wfi_vdif_header_bytes(header))
        return "the frame length leaves no room for samples";
    if (wfi_vdif_samples_per_frame(header) == 0)
        return "the frame length is too short for one sample of all channels";
    return NULL;
}

bool wfi_vdif_same_layout(const wfi_vdif_header *a, const wfi_vdif_header *b)
{
    return a->legacy == b->legacy && a->frame_bytes == b->frame_bytes &&
           a->log2_channels == b->log2_channels && a->bits == b->bits &&
           a->is_complex == b->is_complex;
}

/* Modified Julian day of the first of January or July of the years 2000 to 2031, by the rule that
 * every fourth of them is a leap year. */
static int32_t mjd_of_epoch(uint32_t epoch)
{
    enum { MJD_2000 = 51544, DAYS_TO_JULY = 181 };
    const int32_t year = (int32_t)(epoch / 2);
    const int32_t january = MJD_2000 + 365 * year + (year + 3) / 4;
    return epoch % 2 == 0 ? january : january + DAYS_TO_JULY + (year % 4 == 0 ? 1 : 0);
}

int64_t wfi_vdif_epoch_second(uint32_t epoch)
{
    return wf_instant_of_mjd(mjd_of_epoch(epoch)).second;
}

uint32_t wfi_vdif_epoch_of(wf_instant t)
{
    uint32_t epoch = WFI_VDIF_N_EPOCHS - 1;
    while (epoch > 0 && wfi_vdif_epoch_second(epoch) > t.second)
        epoch--;
    return epoch;
}
