// SPDX-License-Identifier: GPL-3.0-or-later
#include "pdf/pdf.h"

#include <cairo-pdf.h>
#include <pango/pangocairo.h>
#include <qpdf/qpdf-c.h>
#include <stdlib.h>
#include <string.h>

enum { TAGS_DEEP = 16, FIGURES_MAX = 64 };

// Bytes cairo has written so far.
typedef struct stream {
    unsigned char *at;
    size_t count, capacity;
} stream;

struct hw_pdf {
    stream written;
    cairo_surface_t *surface;
    cairo_t *context;
    bool has_page;
    char language[16];
    const char *open_tags[TAGS_DEEP];
    int tag_depth;
    const char *figures[FIGURES_MAX]; // what each shows, in the order they were begun
    int figure_count;
    unsigned letter_without_font; // the first that was asked for; 0: none
};

static const double points_per_millimetre = 72.0 / 25.4;
static const char font_family[] = "DejaVu Sans, Noto Sans";

static cairo_status_t append(void *closure, const unsigned char *data, unsigned int length)
{
    stream *to = closure;
    if (to->count + length > to->capacity) {
        size_t capacity = 2 * (to->count + length);
        unsigned char *wider = realloc(to->at, capacity);
        if (!wider) return CAIRO_STATUS_NO_MEMORY;
        to->at = wider;
        to->capacity = capacity;
    }
    memcpy(to->at + to->count, data, length);
    to->count += length;
    return CAIRO_STATUS_SUCCESS;
}

static void write_metadata(cairo_surface_t *surface, const hw_pdf_about *about)
{
    char noon[40];
    snprintf(noon, sizeof noon, "%.10sT12:00:00Z", about->date);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, about->title);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "heelwright " HW_VERSION);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, noon);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, noon);
}

hw_status hw_pdf_begin(hw_job *job, const hw_pdf_about *about, hw_pdf **out)
{
    hw_pdf *pdf = calloc(1, sizeof *pdf);
    if (!pdf) return hw_fail(job, HW_NO_MEMORY, "no memory for a PDF");
    snprintf(pdf->language, sizeof pdf->language, "%s", about->language);
    double scale = points_per_millimetre;
    double wide = about->paper_width > 0.0 ? about->paper_width : about->width;
    double high = about->paper_width > 0.0 ? about->paper_height : about->height;
    double fit = fmin(wide / about->width, high / about->height);
    pdf->surface =
        cairo_pdf_surface_create_for_stream(append, &pdf->written, wide * scale, high * scale);
    cairo_pdf_surface_restrict_to_version(pdf->surface, CAIRO_PDF_VERSION_1_5);
    write_metadata(pdf->surface, about);
    pdf->context = cairo_create(pdf->surface);
    cairo_scale(pdf->context, scale, scale);
    cairo_translate(pdf->context, (wide - fit * about->width) / 2.0,
                    (high - fit * about->height) / 2.0);
    cairo_scale(pdf->context, fit, fit);
    hw_pdf_tag(pdf, "Document");
    *out = pdf;
    return HW_OK;
}

void hw_pdf_page(hw_pdf *pdf)
{
    if (pdf->has_page) cairo_show_page(pdf->context);
    pdf->has_page = true;
}

static PangoLayout *lay_out(hw_pdf *pdf, const hw_pdf_ink *ink, double width, const char *text)
{
    PangoLayout *layout = pango_cairo_create_layout(pdf->context);
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, font_family);
    // The context counts millimetres, so letters are sized in millimetres too.
    double letter = ink->size / points_per_millimetre;
    pango_font_description_set_absolute_size(font, letter * PANGO_SCALE);
    if (ink->is_bold) pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
    PangoContext *context = pango_layout_get_context(layout);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    pango_cairo_context_set_font_options(context, options);
    cairo_font_options_destroy(options);
    pango_context_set_round_glyph_positions(context, FALSE);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout, text, -1);
    return layout;
}

static double height_of(PangoLayout *layout)
{
    PangoRectangle extent;
    pango_layout_get_extents(layout, NULL, &extent);
    return (double)extent.height / PANGO_SCALE;
}

static void dip(hw_pdf *pdf, const hw_pdf_ink *ink)
{
    cairo_set_source_rgb(pdf->context, ink->red, ink->green, ink->blue);
    cairo_set_line_width(pdf->context, ink->thickness > 0.0 ? ink->thickness : 0.2);
    cairo_set_line_join(pdf->context, CAIRO_LINE_JOIN_ROUND);
}

// Pango draws a letter that no font has as a box, and keeps its code point beside a flag.
static unsigned letter_without_font(PangoLayout *layout)
{
    unsigned found = 0;
    PangoLayoutIter *at = pango_layout_get_iter(layout);
    do {
        const PangoLayoutRun *run = pango_layout_iter_get_run_readonly(at);
        for (int i = 0; run && !found && i < run->glyphs->num_glyphs; i++) {
            PangoGlyph glyph = run->glyphs->glyphs[i].glyph;
            if (glyph & PANGO_GLYPH_UNKNOWN_FLAG && glyph != PANGO_GLYPH_INVALID_INPUT)
                found = glyph & ~PANGO_GLYPH_UNKNOWN_FLAG;
        }
    } while (!found && pango_layout_iter_next_run(at));
    pango_layout_iter_free(at);
    return found;
}

double hw_pdf_text(hw_pdf *pdf, const hw_pdf_ink *ink, double x, double y, double width,
                   const char *text)
{
    PangoLayout *layout = lay_out(pdf, ink, width, text);
    if (!pdf->letter_without_font && pango_layout_get_unknown_glyphs_count(layout) > 0)
        pdf->letter_without_font = letter_without_font(layout);
    dip(pdf, ink);
    cairo_move_to(pdf->context, x, y);
    pango_cairo_show_layout(pdf->context, layout);
    double height = height_of(layout);
    g_object_unref(layout);
    return height;
}

double hw_pdf_text_height(hw_pdf *pdf, const hw_pdf_ink *ink, double width, const char *text)
{
    PangoLayout *layout = lay_out(pdf, ink, width, text);
    double height = height_of(layout);
    g_object_unref(layout);
    return height;
}

void hw_pdf_path(hw_pdf *pdf, const hw_pdf_ink *ink, const double (*points)[2], int count,
                 bool is_filled)
{
    dip(pdf, ink);
    cairo_new_path(pdf->context);
    for (int i = 0; i < count; i++) cairo_line_to(pdf->context, points[i][0], points[i][1]);
    if (is_filled)
        cairo_fill(pdf->context);
    else
        cairo_stroke(pdf->context);
}

// Point i of a curve; beyond the ends the end itself, or around where the curve is closed.
static const double *curve_point(const double (*points)[2], int count, bool is_closed, int i)
{
    if (is_closed && i < 0) return points[count - 2];
    if (is_closed && i >= count) return points[1];
    return points[i < 0 ? 0 : i >= count ? count - 1 : i];
}

static void trace_curve(cairo_t *context, const double (*points)[2], int count)
{
    const double *first = points[0], *last = points[count - 1];
    bool is_closed =
        count > 2 && hypot(first[0] - last[0], first[1] - last[1]) < 1e-6; // mm: typed the same
    cairo_new_path(context);
    cairo_move_to(context, first[0], first[1]);
    for (int i = 0; i + 1 < count; i++) {
        const double *before = curve_point(points, count, is_closed, i - 1);
        const double *from = points[i], *to = points[i + 1];
        const double *after = curve_point(points, count, is_closed, i + 2);
        double handles[4];
        for (int k = 0; k < 2; k++) {
            handles[k] = from[k] + (to[k] - before[k]) / 6.0;
            handles[2 + k] = to[k] - (after[k] - from[k]) / 6.0;
        }
        cairo_curve_to(context, handles[0], handles[1], handles[2], handles[3], to[0], to[1]);
    }
    if (is_closed) cairo_close_path(context);
}

void hw_pdf_curve(hw_pdf *pdf, const hw_pdf_ink *ink, const double (*points)[2], int count,
                  bool is_filled)
{
    HW_ASSERT(count >= 2);
    dip(pdf, ink);
    trace_curve(pdf->context, points, count);
    cairo_set_line_cap(pdf->context, CAIRO_LINE_CAP_ROUND);
    if (is_filled)
        cairo_fill(pdf->context);
    else
        cairo_stroke(pdf->context);
    cairo_set_line_cap(pdf->context, CAIRO_LINE_CAP_BUTT);
}

void hw_pdf_box(hw_pdf *pdf, const hw_pdf_ink *ink, double x, double y, double width, double height,
                bool is_filled)
{
    dip(pdf, ink);
    cairo_new_path(pdf->context);
    cairo_rectangle(pdf->context, x, y, width, height);
    if (is_filled)
        cairo_fill(pdf->context);
    else
        cairo_stroke(pdf->context);
}

hw_status hw_pdf_picture(hw_job *job, hw_pdf *pdf, const unsigned char (*pixels)[3],
                         const int size[2], const double place[4])
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, size[0], size[1]);
    if (cairo_surface_status(image) != CAIRO_STATUS_SUCCESS)
        return hw_fail(job, HW_NO_MEMORY, "no memory for a picture of %d x %d", size[0], size[1]);
    cairo_surface_flush(image);
    unsigned char *at = cairo_image_surface_get_data(image);
    int stride = cairo_image_surface_get_stride(image);
    for (int row = 0; row < size[1]; row++)
        for (int column = 0; column < size[0]; column++) {
            const unsigned char *pixel = pixels[row * size[0] + column];
            uint32_t word = (uint32_t)pixel[0] << 16 | (uint32_t)pixel[1] << 8 | pixel[2];
            memcpy(at + row * stride + 4 * column, &word, 4);
        }
    cairo_surface_mark_dirty(image);
    cairo_save(pdf->context);
    cairo_translate(pdf->context, place[0], place[1]);
    cairo_scale(pdf->context, place[2] / size[0], place[3] / size[1]);
    cairo_set_source_surface(pdf->context, image, 0.0, 0.0);
    cairo_paint(pdf->context);
    cairo_restore(pdf->context);
    cairo_surface_destroy(image);
    return HW_OK;
}

void hw_pdf_tag(hw_pdf *pdf, const char *tag)
{
    HW_ASSERT(pdf->tag_depth < TAGS_DEEP);
    pdf->open_tags[pdf->tag_depth++] = tag;
    cairo_tag_begin(pdf->context, tag, NULL);
}

void hw_pdf_tag_figure(hw_pdf *pdf, const char *words)
{
    HW_ASSERT(pdf->figure_count < FIGURES_MAX);
    pdf->figures[pdf->figure_count++] = words;
    hw_pdf_tag(pdf, "Figure");
}

void hw_pdf_untag(hw_pdf *pdf)
{
    HW_ASSERT(pdf->tag_depth > 0);
    cairo_tag_end(pdf->context, pdf->open_tags[--pdf->tag_depth]);
}

static hw_status copy_bytes(hw_job *job, const unsigned char *from, size_t count, hw_arena *into,
                            hw_bytes *out)
{
    unsigned char *copy = NULL;
    HW_ALLOC(job, into, copy, count + 1);
    memcpy(copy, from, count);
    *out = (hw_bytes){copy, count};
    return HW_OK;
}

// Cairo writes no alternative texts: they are given to the figures of the structure tree here. The
// tree holds them in the order they were begun. Returns how many figures stand at and below `at`.
static int describe_figures(const hw_pdf *pdf, qpdf_data qpdf, qpdf_oh at, int next)
{
    if (qpdf_oh_is_array(qpdf, at)) {
        int count = qpdf_oh_get_array_n_items(qpdf, at);
        for (int i = 0; i < count; i++)
            next = describe_figures(pdf, qpdf, qpdf_oh_get_array_item(qpdf, at, i), next);
        return next;
    }
    if (!qpdf_oh_is_dictionary(qpdf, at)) return next;
    qpdf_oh kind = qpdf_oh_get_key(qpdf, at, "/S");
    bool is_figure =
        qpdf_oh_is_name(qpdf, kind) && !strcmp(qpdf_oh_get_name(qpdf, kind), "/Figure");
    if (is_figure && next < pdf->figure_count)
        qpdf_oh_replace_key(qpdf, at, "/Alt", qpdf_oh_new_unicode_string(qpdf, pdf->figures[next]));
    next += is_figure;
    if (qpdf_oh_has_key(qpdf, at, "/K"))
        next = describe_figures(pdf, qpdf, qpdf_oh_get_key(qpdf, at, "/K"), next);
    return next;
}

// Language, alternative texts, and an identifier from the content in place of cairo's none.
static hw_status finish(hw_job *job, const hw_pdf *pdf, hw_arena *into, hw_bytes *out)
{
    qpdf_data qpdf = qpdf_init();
    qpdf_set_suppress_warnings(qpdf, QPDF_TRUE);
    hw_status status = HW_OK;
    if (qpdf_read_memory(qpdf, "plan", (const char *)pdf->written.at, pdf->written.count, NULL) >=
        QPDF_ERRORS)
        status = hw_fail(job, HW_NO_ANSWER, "the PDF cannot be read back: %s",
                         qpdf_get_error_full_text(qpdf, qpdf_get_error(qpdf)));
    if (status == HW_OK) {
        qpdf_oh root = qpdf_get_root(qpdf);
        qpdf_oh_replace_key(qpdf, root, "/Lang", qpdf_oh_new_string(qpdf, pdf->language));
        if (describe_figures(pdf, qpdf, qpdf_oh_get_key(qpdf, root, "/StructTreeRoot"), 0) !=
            pdf->figure_count)
            status = hw_fail(job, HW_NO_ANSWER,
                             "a figure of the PDF has no words, or no place in its structure");
    }
    if (status == HW_OK) {
        qpdf_init_write_memory(qpdf);
        qpdf_set_deterministic_ID(qpdf, QPDF_TRUE);
        if (qpdf_write(qpdf) >= QPDF_ERRORS)
            status = hw_fail(job, HW_NO_ANSWER, "the PDF cannot be finished: %s",
                             qpdf_get_error_full_text(qpdf, qpdf_get_error(qpdf)));
    }
    if (status == HW_OK)
        status = copy_bytes(job, qpdf_get_buffer(qpdf), qpdf_get_buffer_length(qpdf), into, out);
    qpdf_cleanup(&qpdf);
    return status;
}

hw_status hw_pdf_end(hw_job *job, hw_pdf *pdf, hw_arena *into, hw_bytes *out)
{
    while (pdf->tag_depth > 0) hw_pdf_untag(pdf);
    cairo_show_page(pdf->context);
    cairo_status_t problem = cairo_status(pdf->context);
    cairo_destroy(pdf->context);
    cairo_surface_finish(pdf->surface);
    if (problem == CAIRO_STATUS_SUCCESS) problem = cairo_surface_status(pdf->surface);
    cairo_surface_destroy(pdf->surface);
    hw_status status = HW_OK;
    if (problem != CAIRO_STATUS_SUCCESS)
        status = hw_fail(job, HW_NO_ANSWER, "the PDF cannot be drawn: %s",
                         cairo_status_to_string(problem));
    else if (pdf->letter_without_font)
        status = hw_fail(job, HW_BAD_INPUT,
                         "no font on this machine has the letter U+%04X: install one that has it "
                         "(Debian: fonts-noto-core, fonts-wqy-microhei), or write the name or note "
                         "in other letters",
                         pdf->letter_without_font);
    else
        status = finish(job, pdf, into, out);
    free(pdf->written.at);
    free(pdf);
    return status;
}
