/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading YAML files: libyaml keeps the places, libcyaml fills the structs. */
#include "observation/document.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <yaml.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/key_path.h"
#include "observation/schema_check.h"

/* A job for 255 stations and a week of scans stays below 2 MB. */
enum { FILE_BYTES_MAX = 16 << 20 };

struct wfi_document {
    char *path;
    char *bytes;
    size_t n_bytes;
    yaml_document_t *yaml;
};

/* Line of a byte, from 1: libyaml gives no line for bytes that are no text. */
static size_t line_of_byte(const char *bytes, size_t n, size_t offset)
{
    size_t line = 1;
    for (size_t i = 0; i < n && i < offset; i++)
        line += bytes[i] == '\n';
    return line;
}

static const char *remedy_of(const wfi_document *document, const yaml_parser_t *parser)
{
    const char *p = document->bytes;
    for (size_t line = 0; line < parser->problem_mark.line && p != NULL; line++) {
        p = memchr(p, '\n', document->n_bytes - (size_t)(p - document->bytes));
        p = p == NULL ? NULL : p + 1;
    }
    const size_t left = p == NULL ? 0 : document->n_bytes - (size_t)(p - document->bytes);
    const char *end = left == 0 ? NULL : memchr(p, '\n', left);
    const size_t n = left == 0 ? 0 : end == NULL ? left : (size_t)(end - p);
    if (n > 0 && memchr(p, '\t', n) != NULL)
        return "; YAML indents with blanks: replace the tab";
    return "; look at that line and the one above it for a missing bracket, quote, colon or blank";
}

static wf_status fail_syntax(const wfi_document *document, const yaml_parser_t *parser,
                             wf_error *err)
{
    const char *problem = parser->problem != NULL ? parser->problem : "cannot be read";
    if (parser->error == YAML_MEMORY_ERROR)
        return wfi_fail(err, WF_MEMORY, "%s: out of memory while the file was read",
                        document->path);
    if (parser->error == YAML_READER_ERROR)
        return wfi_fail(err, WF_FORMAT,
                        "%s:%zu: byte %zu: not text: %s; save the file as UTF-8 text",
                        document->path,
                        line_of_byte(document->bytes, document->n_bytes, parser->problem_offset),
                        parser->problem_offset, problem);
    const char *context = parser->context != NULL ? parser->context : "";
    return wfi_fail(err, WF_FORMAT, "%s:%zu:%zu: not YAML: %s%s%s%s", document->path,
                    parser->problem_mark.line + 1, parser->problem_mark.column + 1, problem,
                    *context != '\0' ? " " : "", context, remedy_of(document, parser));
}

/* The composer has read one document; anything after it would be lost in silence. */
static wf_status expect_end(const wfi_document *document, yaml_parser_t *parser, wf_error *err)
{
    yaml_document_t second;
    if (!yaml_parser_load(parser, &second))
        return fail_syntax(document, parser, err);
    const yaml_node_t *root = yaml_document_get_root_node(&second);
    const size_t line = root != NULL ? root->start_mark.line + 1 : 0;
    yaml_document_delete(&second);
    if (root != NULL)
        return wfi_fail(err, WF_FORMAT,
                        "%s:%zu: a second YAML document begins here; keep one in each file",
                        document->path, line);
    return WF_OK;
}

static wf_status compose(wfi_document *document, wf_error *err)
{
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser))
        return wfi_fail(err, WF_MEMORY, "%s: out of memory", document->path);
    yaml_parser_set_input_string(&parser, (const unsigned char *)document->bytes,
                                 document->n_bytes);
    wf_status status = WF_OK;
    if (!yaml_parser_load(&parser, document->yaml))
        status = fail_syntax(document, &parser, err);
    else if (yaml_document_get_root_node(document->yaml) == NULL)
        status = wfi_fail(err, WF_FORMAT,
                          "%s: the file holds nothing, or comments alone; start from one of the "
                          "files in examples/",
                          document->path);
    else
        status = expect_end(document, &parser, err);
    yaml_parser_delete(&parser);
    return status;
}

/* Takes over `bytes`, a zero behind them, also on failure. */
static wf_status create(wfi_document **out, const char *path, char *bytes, size_t n, wf_error *err)
{
    wfi_document *document = NULL;
    wf_status status = wfi_allocate(&document, 1, sizeof *document, "a document", err);
    if (status != WF_OK) {
        wfi_free(bytes);
        return status;
    }
    document->bytes = bytes;
    document->n_bytes = n;
    status = wfi_string_copy(&document->path, path, err);
    if (status == WF_OK)
        status = wfi_allocate(&document->yaml, 1, sizeof *document->yaml, "a document", err);
    if (status == WF_OK)
        status = compose(document, err);
    if (status != WF_OK) {
        wfi_document_close(document);
        document = NULL;
    }
    *out = document;
    return status;
}

wf_status wfi_document_parse(wfi_document **out, const char *path, const char *bytes, size_t n,
                             wf_error *err)
{
    *out = NULL;
    char *copy = NULL;
    WFI_TRY(wfi_allocate(&copy, n + 1, 1, "a document", err));
    memcpy(copy, bytes, n);
    return create(out, path, copy, n, err);
}

static wf_status read_whole(int file, const char *path, char *bytes, size_t n, wf_error *err)
{
    for (size_t done = 0; done < n;) {
        const ssize_t got = read(file, bytes + done, n - done);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return wfi_fail(err, WF_IO, "%s: cannot be read: %s", path, strerror(errno));
        if (got == 0)
            return wfi_fail(err, WF_IO, "%s: became shorter while it was read", path);
        done += (size_t)got;
    }
    return WF_OK;
}

static wf_status check_kind(int file, const char *path, size_t *n, wf_error *err)
{
    struct stat about;
    if (fstat(file, &about) != 0)
        return wfi_fail(err, WF_IO, "%s: %s", path, strerror(errno));
    if (S_ISDIR(about.st_mode))
        return wfi_fail(err, WF_FORMAT,
                        "%s: expected a YAML file, found a folder; name the file "
                        "in it",
                        path);
    if (!S_ISREG(about.st_mode))
        return wfi_fail(err, WF_FORMAT, "%s: expected a YAML file, found a device or pipe", path);
    if (about.st_size > FILE_BYTES_MAX)
        return wfi_fail(err, WF_FORMAT,
                        "%s: expected a YAML file of at most %d bytes, found %lld; is it a "
                        "recording?",
                        path, FILE_BYTES_MAX, (long long)about.st_size);
    *n = (size_t)about.st_size;
    return WF_OK;
}

wf_status wfi_document_open(wfi_document **out, const char *path, wf_error *err)
{
    *out = NULL;
    const int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0 && (errno == ENOENT || errno == ENOTDIR))
        return wfi_fail(err, WF_MISSING, "%s: no such file; check the name and its folder", path);
    if (file < 0)
        return wfi_fail(err, WF_IO, "%s: cannot be opened: %s", path, strerror(errno));
    size_t n = 0;
    char *bytes = NULL;
    wf_status status = check_kind(file, path, &n, err);
    if (status == WF_OK)
        status = wfi_allocate(&bytes, n + 1, 1, "a document", err);
    if (status == WF_OK)
        status = read_whole(file, path, bytes, n, err);
    close(file);
    if (status != WF_OK) {
        wfi_free(bytes);
        return status;
    }
    return create(out, path, bytes, n, err);
}

void wfi_document_close(wfi_document *document)
{
    if (document == NULL)
        return;
    if (document->yaml != NULL)
        yaml_document_delete(document->yaml);
    wfi_free(document->yaml);
    wfi_free(document->bytes);
    wfi_free(document->path);
    wfi_free(document);
}

/* Memory for libcyaml: a block is headed by its capacity, and grows by doubling, since libcyaml
 * enlarges a sequence entry by entry. */
enum { HEADER_BYTES = 64, CAPACITY_LEAST = 64 };

static void *resize(void *context, void *memory, size_t size)
{
    (void)context;
    char *old = memory == NULL ? NULL : (char *)memory - HEADER_BYTES;
    if (size == 0) {
        wfi_free(old);
        return NULL;
    }
    size_t capacity = 0;
    if (old != NULL)
        memcpy(&capacity, old, sizeof capacity);
    if (size <= capacity)
        return memory;
    size_t grown = CAPACITY_LEAST;
    while (grown < size && grown <= SIZE_MAX / 4)
        grown *= 2;
    char *block = grown < size ? NULL : wfi_array_alloc(grown + HEADER_BYTES, 1);
    if (block == NULL)
        return NULL;
    if (old != NULL)
        memcpy(block + HEADER_BYTES, memory, capacity);
    memcpy(block, &grown, sizeof grown);
    wfi_free(old);
    return block + HEADER_BYTES;
}

/* libcyaml's first line is the cause, those after it its way up. */
enum { LOG_BYTES = 256 };

__attribute__((format(printf, 3, 0))) static void
keep_first_line(cyaml_log_t level, void *context, const char *format, va_list arguments)
{
    char *line = context;
    if (level < CYAML_LOG_ERROR || line[0] != '\0')
        return;
    vsnprintf(line, LOG_BYTES, format, arguments);
    line[strcspn(line, "\n")] = '\0';
}

wf_status wfi_document_load(void *raw, const wfi_document *document,
                            const cyaml_schema_value_t *schema, wf_error *err)
{
    cyaml_data_t *data = NULL;
    memcpy(raw, &data, sizeof data);
    WFI_TRY(wfi_schema_check(schema, document->yaml, document->path, err));
    char log[LOG_BYTES] = "";
    const cyaml_config_t config = {
        .log_fn = keep_first_line, .log_ctx = log, .mem_fn = resize, .log_level = CYAML_LOG_ERROR};
    const cyaml_err_t failure = cyaml_load_data((const uint8_t *)document->bytes, document->n_bytes,
                                                &config, schema, &data, NULL);
    if (failure == CYAML_ERR_OOM)
        return wfi_fail(err, WF_MEMORY, "%s: out of memory", document->path);
    if (failure != CYAML_OK)
        return wfi_fail(err, WF_FORMAT, "%s: %s: %s", document->path, cyaml_strerror(failure), log);
    memcpy(raw, &data, sizeof data);
    return WF_OK;
}

void wfi_document_release(void *raw, const cyaml_schema_value_t *schema)
{
    const cyaml_config_t config = {.mem_fn = resize, .log_level = CYAML_LOG_ERROR};
    if (raw != NULL)
        (void)cyaml_free(&config, schema, raw, 0);
}

const char *wfi_document_text(const wfi_document *document, size_t *n)
{
    *n = document->n_bytes;
    return document->bytes;
}

const char *wfi_document_path(const wfi_document *document)
{
    return document->path;
}

size_t wfi_document_line(const wfi_document *document, const char *key_path)
{
    return wfi_key_path_line(document->yaml, key_path);
}

wf_status wfi_document_resolve(char **out, const wfi_document *document, const char *path,
                               wf_error *err)
{
    const char *slash = strrchr(document->path, '/');
    if (path[0] == '/' || slash == NULL)
        return wfi_string_copy(out, path, err);
    const size_t n_folder = (size_t)(slash - document->path) + 1;
    const size_t n = strlen(path) + 1;
    WFI_TRY(wfi_allocate(out, n_folder + n, 1, "a path", err));
    memcpy(*out, document->path, n_folder);
    memcpy(*out + n_folder, path, n);
    return WF_OK;
}
