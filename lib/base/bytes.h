/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Little-endian and big-endian words of files, read without any cast to a struct. */
#ifndef WFI_BASE_BYTES_H
#define WFI_BASE_BYTES_H

#include <stdint.h>

static inline uint32_t wfi_le32(const uint8_t *p)
{
    return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static inline uint64_t wfi_le64(const uint8_t *p)
{
    return (uint64_t)p[0] | (uint64_t)p[1] << 8 | (uint64_t)p[2] << 16 | (uint64_t)p[3] << 24 |
           (uint64_t)p[4] << 32 | (uint64_t)p[5] << 40 | (uint64_t)p[6] << 48 |
           (uint64_t)p[7] << 56;
}

static inline void wfi_put_le32(uint8_t *p, uint32_t word)
{
    p[0] = (uint8_t)(word & 0xff);
    p[1] = (uint8_t)(word >> 8 & 0xff);
    p[2] = (uint8_t)(word >> 16 & 0xff);
    p[3] = (uint8_t)(word >> 24);
}

static inline uint32_t wfi_be32(const uint8_t *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | (uint32_t)p[3];
}

static inline uint64_t wfi_be64(const uint8_t *p)
{
    return (uint64_t)wfi_be32(p) << 32 | wfi_be32(p + 4);
}

static inline void wfi_put_be32(uint8_t *p, uint32_t word)
{
    p[0] = (uint8_t)(word >> 24);
    p[1] = (uint8_t)(word >> 16 & 0xff);
    p[2] = (uint8_t)(word >> 8 & 0xff);
    p[3] = (uint8_t)(word & 0xff);
}

static inline void wfi_put_be64(uint8_t *p, uint64_t word)
{
    wfi_put_be32(p, (uint32_t)(word >> 32));
    wfi_put_be32(p + 4, (uint32_t)(word & 0xffffffff));
}

#endif
