/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a station's samples may be stored other than the job says. Sound files say it themselves. */
#include <string.h>

#include "observation/guess.h"

static bool is_vdif_of_station(const wfi_guess *guess, size_t r)
{
    return wfi_guess_is_of_station(guess, r) && guess->recorded[r].is_vdif;
}

static void guess_sampling(wfi_guess *guess)
{
    wfi_guess_begin(guess, "real_or_complex", WFI_SHOWN_BY_CORRELATION, "%s", "");
    bool is_complex = false;
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const wfi_recorded *recorded = &guess->recorded[r];
        const int64_t rate_hz = recorded->sample_rate_hz;
        if (!is_vdif_of_station(guess, r) || rate_hz == 0 ||
            (!recorded->is_complex && rate_hz % 2 != 0))
            continue;
        is_complex = !recorded->is_complex;
        wfi_guess_text(guess, is_complex ? "complex" : "real", "recordings[%zu].sampling", r);
        wfi_guess_number(guess, (double)(is_complex ? rate_hz / 2 : 2 * rate_hz),
                         "recordings[%zu].sample_rate_hz", r);
    }
    wfi_guess_end(guess, "its samples are %s",
                  is_complex ? "complex and not real" : "real and not complex");
}

/* The other word of a key, in all recordings whose samples are as wide as the key takes. */
static void guess_word(wfi_guess *guess, const char *name, const char *key,
                       const char *const *words, unsigned bits_least, unsigned bits_most,
                       const char *sentence)
{
    wfi_guess_begin(guess, name, WFI_SHOWN_BY_CORRELATION, "%s", "");
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const unsigned bits = guess->recorded[r].bits;
        const char *stated = wfi_guess_value(guess, "recordings[%zu].%s", r, key);
        const bool is_standard = stated == NULL || strcmp(stated, words[0]) == 0;
        if (is_vdif_of_station(guess, r) &&
            (bits == 0 || (bits >= bits_least && bits <= bits_most)))
            wfi_guess_text(guess, words[is_standard], "recordings[%zu].%s", r, key);
    }
    wfi_guess_end(guess, "%s", sentence);
}

static void guess_byte_order(wfi_guess *guess)
{
    static const struct {
        const char *word;
        const char *detail;
    } orders[] = {{"standard", "standard"},
                  {"swapped_in_16", "in 16 bits"},
                  {"swapped_in_32", "in 32 bits"},
                  {"swapped_in_64", "in 64 bits"}};
    for (size_t k = 0; k < sizeof orders / sizeof orders[0]; k++) {
        wfi_guess_begin(guess, "byte_order", WFI_SHOWN_BY_CORRELATION, "%s", orders[k].detail);
        for (size_t r = 0; r < guess->n_recordings; r++) {
            const char *stated = wfi_guess_value(guess, "recordings[%zu].byte_order", r);
            if (is_vdif_of_station(guess, r) &&
                strcmp(stated == NULL ? "standard" : stated, orders[k].word) != 0)
                wfi_guess_text(guess, orders[k].word, "recordings[%zu].byte_order", r);
        }
        if (k == 0)
            wfi_guess_end(guess, "the bytes of its samples stand as the standard has them");
        else
            wfi_guess_end(guess, "the bytes of its samples are swapped %s", orders[k].detail);
    }
}

void wfi_guess_codes(wfi_guess *guess)
{
    static const char *const sign_bits[] = {"highest", "lowest"};
    static const char *const bit_orders[] = {"standard", "reversed"};
    static const char *const encodings[] = {"offset_binary", "twos_complement"};
    enum { BITS_MAX = 32 };
    guess_sampling(guess);
    guess_word(guess, "sign_and_magnitude_bits", "sign_bit", sign_bits, 2, 2,
               "sign and magnitude of its samples are exchanged");
    guess_word(guess, "bit_order", "bit_order", bit_orders, 1, BITS_MAX,
               "the bits of its samples stand in the opposite order");
    guess_word(guess, "codes", "encoding", encodings, 2, BITS_MAX,
               "its samples are of the other encoding, two's complement or offset binary");
    guess_byte_order(guess);
}
