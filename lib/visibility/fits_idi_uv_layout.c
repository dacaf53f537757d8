/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Axes of FLUX by their names, columns by theirs; rows decoded by strides. */
#include "visibility/fits_idi_uv_layout.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "visibility/cfitsio.h"

#define N_ENTRIES(array) (sizeof(array) / sizeof(array)[0])

enum { N_AXES_MAX = 12, N_PRODUCTS_MAX = 4 };

static wf_status find_columns(wfi_uv_layout *layout, const char *path, wf_error *err)
{
    static const char *const names[][5] = {
        {"UU---SIN", "UU--SIN", "UU", "UU-L", "UU---NCP"},
        {"VV---SIN", "VV--SIN", "VV", "VV-L", "VV---NCP"},
        {"WW---SIN", "WW--SIN", "WW", "WW-L", "WW---NCP"},
        {"DATE"},
        {"TIME"},
        {"BASELINE"},
        {"SOURCE_ID", "SOURCE"},
        {"INTTIM"},
        {"FLUX"},
    };
    static const size_t n_names[] = {5, 5, 5, 1, 1, 1, 2, 1, 1};
    wfi_fits_field *const fields[] = {&layout->uvw[0], &layout->uvw[1],   &layout->uvw[2],
                                      &layout->date,   &layout->time,     &layout->baseline,
                                      &layout->source, &layout->interval, &layout->flux};
    for (size_t i = 0; i < N_ENTRIES(fields); i++)
        WFI_TRY(
            wfi_fits_layout_find(fields[i], &layout->table, path, names[i], n_names[i], 0, err));
    /* those below may be absent */
    static const char *const weight[] = {"WEIGHT"};
    static const char *const frequency[] = {"FREQID"};
    (void)!wfi_fits_layout_find(&layout->weight, &layout->table, path, weight, 1, 0, NULL);
    (void)!wfi_fits_layout_find(&layout->frequency, &layout->table, path, frequency, 1, 0, NULL);
    return WF_OK;
}

/* One axis, number i (from 1); where FLUX stands after the axes so far. */
static wf_status read_axis(wfi_uv_layout *layout, fitsfile *file, const char *path, int i,
                           size_t *stride, int *fits, wf_error *err)
{
    char key[FLEN_KEYWORD];
    char type[FLEN_VALUE] = "";
    LONGLONG n = 0;
    snprintf(key, sizeof key, "MAXIS%d", i);
    fits_read_key(file, TLONGLONG, key, &n, NULL, fits);
    snprintf(key, sizeof key, "CTYPE%d", i);
    fits_read_key(file, TSTRING, key, type, NULL, fits);
    if (*fits != 0)
        return WF_OK;
    if (n < 1 || (uint64_t)n > layout->flux.repeat / *stride)
        return wfi_fail(err, WF_FORMAT, "%s: UV_DATA: MAXIS%d = %lld does not fit FLUX of %zu",
                        path, i, (long long)n, layout->flux.repeat);
    const wfi_uv_axis axis = {(size_t)n, *stride};
    if (strncmp(type, "COMPLEX", 7) == 0)
        layout->component = axis;
    else if (strncmp(type, "STOKES", 6) == 0)
        layout->product = axis;
    else if (strncmp(type, "FREQ", 4) == 0)
        layout->channel = axis;
    else if (strncmp(type, "BAND", 4) == 0)
        layout->band = axis;
    else if (n != 1)
        return wfi_fail(err, WF_UNSUPPORTED, "%s: UV_DATA: axis %s has %lld elements, expected 1",
                        path, type, (long long)n);
    *stride *= (size_t)n;
    return WF_OK;
}

static wf_status read_axes(wfi_uv_layout *layout, fitsfile *file, const char *path, wf_error *err)
{
    int fits = 0;
    int n_axes = 0;
    size_t stride = 1;
    const wfi_uv_axis one = {1, 0};
    layout->component = (wfi_uv_axis){0};
    layout->product = layout->channel = layout->band = one;
    fits_read_key(file, TINT, "MAXIS", &n_axes, NULL, &fits);
    for (int i = 1; i <= n_axes && i <= N_AXES_MAX && fits == 0; i++)
        WFI_TRY(read_axis(layout, file, path, i, &stride, &fits, err));
    WFI_TRY(wfi_cfitsio_check(fits, path, "the axes of UV_DATA could not be read", WF_FORMAT, err));
    if (stride != layout->flux.repeat || layout->component.n < 2 || layout->component.n > 3 ||
        layout->product.n > N_PRODUCTS_MAX)
        return wfi_fail(err, WF_FORMAT,
                        "%s: UV_DATA: its axes (%zu complex, %zu products, %zu channels, %zu "
                        "bands) do not make up FLUX of %zu",
                        path, layout->component.n, layout->product.n, layout->channel.n,
                        layout->band.n, layout->flux.repeat);
    return WF_OK;
}

static wf_status read_products(wfi_uv_layout *layout, fitsfile *file, const char *path,
                               wf_error *err)
{
    int fits = 0;
    fits_read_key(file, TINT, "STK_1", &layout->first_product_code, NULL, &fits);
    WFI_TRY(wfi_cfitsio_check(fits, path,
                              "UV_DATA: STK_1, the code of the first product, could "
                              "not be read",
                              WF_FORMAT, err));
    const int last = layout->first_product_code - (int)layout->product.n + 1;
    if (layout->first_product_code > -1 || last < -8)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: UV_DATA: STK_1 = %d with %zu products; expected products from RR (-1) "
                        "to YX (-8)",
                        path, layout->first_product_code, layout->product.n);
    return WF_OK;
}

static wf_status check_weights(wfi_uv_layout *layout, fitsfile *file, const char *path,
                               wf_error *err)
{
    char type[FLEN_VALUE] = "NORMAL";
    int fits = 0;
    fits_read_key(file, TSTRING, "WEIGHTYP", type, NULL, &fits);
    layout->divides_by_weight = strncmp(type, "CORRELAT", 8) == 0;
    if (layout->component.n == 3)
        layout->weight.repeat = 0; /* every visibility has its own */
    const size_t n = layout->weight.repeat;
    if (n > 1 && n != layout->band.n && n != layout->band.n * layout->product.n)
        return wfi_fail(err, WF_FORMAT, "%s: UV_DATA: WEIGHT of %zu for %zu bands and %zu products",
                        path, n, layout->band.n, layout->product.n);
    return WF_OK;
}

static size_t end_of(const wfi_fits_field *field)
{
    const size_t bytes = field->type == 'D'   ? 8
                         : field->type == 'I' ? 2
                         : field->type == 'B' ? 1
                                              : 4;
    return field->repeat == 0 ? 0 : field->offset + bytes * field->repeat;
}

static size_t label_bytes(const wfi_uv_layout *layout)
{
    const wfi_fits_field *const fields[] = {
        &layout->uvw[0],   &layout->uvw[1], &layout->uvw[2],    &layout->date,     &layout->time,
        &layout->baseline, &layout->source, &layout->frequency, &layout->interval, &layout->weight};
    size_t end = 0;
    for (size_t i = 0; i < N_ENTRIES(fields); i++)
        end = end_of(fields[i]) > end ? end_of(fields[i]) : end;
    return end;
}

wf_status wfi_uv_layout_read(wfi_uv_layout *layout, fitsfile *file, const char *path,
                             int64_t file_bytes, wf_error *err)
{
    WFI_TRY(wfi_fits_layout_read(&layout->table, file, path, file_bytes, err));
    WFI_TRY(find_columns(layout, path, err));
    WFI_TRY(read_axes(layout, file, path, err));
    WFI_TRY(read_products(layout, file, path, err));
    WFI_TRY(check_weights(layout, file, path, err));
    layout->label_bytes = label_bytes(layout);
    return WF_OK;
}

void wfi_uv_layout_release(wfi_uv_layout *layout)
{
    wfi_fits_layout_release(&layout->table);
    *layout = (wfi_uv_layout){0};
}

static float valid_or_zero(double value)
{
    return isfinite(value) && value > 0.0 ? (float)value : 0.0f;
}

static size_t element(const wfi_uv_layout *layout, size_t i_band, size_t i_channel,
                      size_t i_product)
{
    return i_band * layout->band.stride + i_channel * layout->channel.stride +
           i_product * layout->product.stride;
}

static float own_weight(const wfi_uv_layout *layout, const uint8_t *row, size_t i)
{
    return valid_or_zero(wfi_fits_number(&layout->flux, row, i + 2 * layout->component.stride));
}

/* Where every visibility has a weight, that of the band is their mean. */
static float mean_own_weight(const wfi_uv_layout *layout, const uint8_t *row, size_t i_band,
                             size_t i_product)
{
    double sum = 0;
    for (size_t c = 0; c < layout->channel.n; c++)
        sum += own_weight(layout, row, element(layout, i_band, c, i_product));
    return (float)(sum / (double)layout->channel.n);
}

static float band_weight(const wfi_uv_layout *layout, const uint8_t *row, size_t i_band,
                         size_t i_product)
{
    if (layout->component.n == 3)
        return mean_own_weight(layout, row, i_band, i_product);
    const size_t n = layout->weight.repeat;
    if (n == 0)
        return 1.0f;
    const size_t i = n == 1                ? 0
                     : n == layout->band.n ? i_band
                                           : i_band * layout->product.n + i_product;
    return valid_or_zero(wfi_fits_number(&layout->weight, row, i));
}

void wfi_uv_decode_weights(float *weight, const wfi_uv_layout *layout, const uint8_t *row)
{
    for (size_t b = 0; b < layout->band.n; b++) {
        for (size_t p = 0; p < layout->product.n; p++)
            *weight++ = band_weight(layout, row, b, p);
    }
}

/* The conjugate of what the file holds; 0 where it is no number or has no weight. */
static float complex house_visibility(const wfi_uv_layout *layout, const uint8_t *row, size_t i,
                                      float band_weight_)
{
    const double re = wfi_fits_number(&layout->flux, row, i);
    const double im = wfi_fits_number(&layout->flux, row, i + layout->component.stride);
    const float weight = layout->component.n == 3 ? own_weight(layout, row, i) : band_weight_;
    if (weight == 0.0f || !isfinite(re) || !isfinite(im))
        return 0.0f;
    const double scale = layout->divides_by_weight ? 1.0 / (double)weight : 1.0;
    const float parts[2] = {(float)(re * scale), (float)(0.0 - im * scale)};
    float complex value;
    memcpy(&value, parts, sizeof value);
    return value;
}

void wfi_uv_decode_visibilities(float complex *visibility, const wfi_uv_layout *layout,
                                bool descending, const uint8_t *row)
{
    const size_t n_channels = layout->channel.n;
    for (size_t b = 0; b < layout->band.n; b++) {
        float weight[N_PRODUCTS_MAX];
        for (size_t p = 0; p < layout->product.n; p++)
            weight[p] = band_weight(layout, row, b, p);
        for (size_t c = 0; c < n_channels; c++) {
            const size_t i_channel = descending ? n_channels - 1 - c : c;
            for (size_t p = 0; p < layout->product.n; p++)
                *visibility++ =
                    house_visibility(layout, row, element(layout, b, i_channel, p), weight[p]);
        }
    }
}
