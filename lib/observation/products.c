/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The polarization products of a job: a contiguous stretch of FITS-IDI's order. */
#include <string.h>

#include "base/status.h"
#include "observation/build.h"

/* FITS-IDI's order of product codes, -1 to -8, circular and then linear. */
enum { N_PRODUCTS = 8, N_OF_A_KIND = 4 };
static const wfi_choice PRODUCTS[N_PRODUCTS] = {{"RR", 0}, {"LL", 1}, {"RL", 2}, {"LR", 3},
                                                {"XX", 4}, {"YY", 5}, {"XY", 6}, {"YX", 7}};

static wf_polarization polarization_of(char letter)
{
    static const char letters[] = "RLXY";
    return (wf_polarization)(strchr(letters, letter) - letters);
}

static wf_product product_of(size_t i)
{
    return (wf_product){polarization_of(PRODUCTS[i].word[0]), polarization_of(PRODUCTS[i].word[1])};
}

static bool is_recorded(const wf_observation *observation, wf_polarization polarization)
{
    for (size_t i = 0; i < observation->n_recordings; i++) {
        for (size_t k = 0; k < observation->recordings[i].n_streams; k++) {
            if (observation->recordings[i].streams[k].polarization == polarization)
                return true;
        }
    }
    return false;
}

static wf_status check_recorded(const wfi_build *build, const wfi_place *place, const char *word)
{
    for (int k = 0; k < 2 && build->observation->n_recordings > 0; k++) {
        if (!is_recorded(build->observation, polarization_of(word[k])))
            return wfi_place_fail(place, NULL,
                                  "%s needs polarization %c, which no stream holds; "
                                  "remove it",
                                  word, word[k]);
    }
    return WF_OK;
}

/* Which products are listed, by their place in FITS-IDI's order. */
static wf_status read_list(const wfi_build *build, const wfi_place *place, bool wanted[N_PRODUCTS])
{
    const wfi_raw_correlation *raw = build->raw->correlation;
    for (size_t k = 0; k < raw->polarization_products_count; k++) {
        const wfi_place entry = wfi_place_at(build->document, build->err,
                                             "%s.polarization_products[%zu]", place->path, k);
        int i = 0;
        WFI_TRY(
            wfi_read_choice(&entry, NULL, raw->polarization_products[k], PRODUCTS, N_PRODUCTS, &i));
        if (wanted[i])
            return wfi_place_fail(&entry, NULL, "%s is listed already; keep one of them",
                                  PRODUCTS[i].word);
        WFI_TRY(check_recorded(build, &entry, PRODUCTS[i].word));
        wanted[i] = true;
    }
    return WF_OK;
}

static void take_recorded(const wf_observation *observation, bool wanted[N_PRODUCTS])
{
    for (size_t i = 0; i < N_PRODUCTS; i++) {
        const wf_product product = product_of(i);
        wanted[i] =
            is_recorded(observation, product.first) && is_recorded(observation, product.second);
    }
}

static wf_status refuse_gap(const wfi_place *place, size_t first, size_t last)
{
    if (first / N_OF_A_KIND != last / N_OF_A_KIND)
        return wfi_place_fail(place, "polarization_products",
                              "circular and linear products do not fit one FITS-IDI file; make two "
                              "jobs");
    return wfi_place_fail(place, "polarization_products",
                          "FITS-IDI holds a contiguous stretch of %s; add the products between "
                          "%s and %s",
                          first < N_OF_A_KIND ? "RR LL RL LR" : "XX YY XY YX", PRODUCTS[first].word,
                          PRODUCTS[last].word);
}

wf_status wfi_build_products(const wfi_build *build, const wfi_place *place)
{
    bool wanted[N_PRODUCTS] = {false};
    if (build->raw->correlation->polarization_products != NULL)
        WFI_TRY(read_list(build, place, wanted));
    else
        take_recorded(build->observation, wanted);
    wf_correlation *correlation = &build->observation->correlation;
    size_t first = N_PRODUCTS;
    for (size_t i = 0; i < N_PRODUCTS; i++) {
        if (!wanted[i])
            continue;
        if (first == N_PRODUCTS)
            first = i;
        if (i != first + correlation->n_products || i / N_OF_A_KIND != first / N_OF_A_KIND)
            return refuse_gap(place, first, i);
        correlation->products[correlation->n_products++] = product_of(i);
    }
    return WF_OK;
}
