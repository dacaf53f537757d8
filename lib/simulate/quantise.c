/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Samplers of evenly spaced thresholds about zero, at the spacing that loses least. */
#include "simulate/quantise.h"

#include "base/check.h"

/* Spacings over sigma. 2 bits: 0.98159, Thompson, Moran and Swenson 2017, ch. 8, the threshold of
 * the best four levels (-3.3359, -1, 1, 3.3359). 4 and 8 bits: optimum of uniform steps, Thompson,
 * Emerson and Schwab 2007, doi:10.1029/2006RS003585. 1 bit: only the sign counts. 16 bits: sigma
 * = 2048 steps, a quantisation noise of 2e-8 and 16 sigma to the end of the scale. */
typedef struct sampler {
    unsigned bits;
    double step;
} sampler;

static const sampler samplers[] = {
    {1, 1.0}, {2, 0.98159}, {4, 0.335201}, {8, 0.030762}, {16, 1.0 / 2048.0}};

static const sampler *find(unsigned bits)
{
    for (size_t i = 0; i < sizeof samplers / sizeof *samplers; i++)
        if (samplers[i].bits == bits)
            return &samplers[i];
    return NULL;
}

bool wfi_quantiser_knows(unsigned bits)
{
    return find(bits) != NULL;
}

double wfi_quantiser_step(unsigned bits)
{
    const sampler *const found = find(bits);
    WFI_CHECK(found != NULL);
    return found != NULL ? found->step : 1.0;
}

void wfi_quantise(uint16_t *codes, const float *volts, size_t n, unsigned bits, float sigma)
{
    const float scale = (float)(1.0 / (wfi_quantiser_step(bits) * (double)sigma));
    const float middle = (float)(1u << (bits - 1));
    const float last = (float)((1u << bits) - 1);
    for (size_t i = 0; i < n; i++) {
        /* Never negative once it is clipped, so that the conversion rounds down. */
        float level = volts[i] * scale + middle;
        level = level > 0.0f ? level : 0.0f;
        level = level < last ? level : last;
        codes[i] = (uint16_t)(int32_t)level;
    }
}

static void put(uint8_t *bytes, size_t place, unsigned bits, uint16_t code)
{
    if (bits == 16) {
        bytes[2 * place] = (uint8_t)(code & 0xff);
        bytes[2 * place + 1] = (uint8_t)(code >> 8);
        return;
    }
    const size_t bit = place * bits;
    bytes[bit / 8] = (uint8_t)(bytes[bit / 8] | code << (bit % 8));
}

void wfi_pack(uint8_t *bytes, const uint16_t *codes, size_t n, unsigned bits, size_t parts,
              size_t first, size_t stride)
{
    for (size_t k = 0; k < n; k++)
        for (size_t part = 0; part < parts; part++)
            put(bytes, (first + k * stride) * parts + part, bits, codes[k * parts + part]);
}
