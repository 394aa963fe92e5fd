// SPDX-License-Identifier: GPL-3.0-or-later
// The sparse system over CHOLMOD: the one file that knows it.
//
// The graph is that of the nodes, a ninth of the unknowns'. Its order is found first and the nodes
// are renumbered by it, so that CHOLMOD takes the values as they lie: a factor for new values then
// needs no permuted copy. Values are stored in blocks: column 3 c + j of place c holds rows 3 r ..
// 3 r + 2 of each place r >= c that meets it, so that one offset and one stride put a block. The
// upper half of the blocks on the diagonal is stored too and not read by CHOLMOD.
#include "fem_internal.h"

#include <cblas.h>
#include <string.h>
#include <suitesparse/cholmod.h>

static const int dissect_from = 4000; // nodes

// Of the OpenMP runtime; its header is the compiler's own and not every compiler here has one.
void omp_set_max_active_levels(int levels);

struct sparse {
    cholmod_common common;
    cholmod_sparse *matrix;
    cholmod_factor *factor;
    cholmod_dense *answer, *work, *spare;
    double *kept;           // values of sparse_keep
    unsigned char *is_held; // by place
    double *right;          // right-hand sides by place, columns_max of them
    int columns_max;
    const hw_fem_mesh *mesh;
    int *place;             // of each node in the order of elimination
    int (*elements)[NODES]; // places instead of nodes
    int *starts;            // of each place's column in `rows`, node_count + 1
    int *rows;              // places, rising
    int (*places)[PAIRS];   // of each element's blocks among all blocks
};

static int compare_ints(const void *a, const void *b)
{
    int one = *(const int *)a, other = *(const int *)b;
    return (one > other) - (one < other);
}

// Rows >= the column of each node, by the elements that meet there.
static hw_status find_pattern(hw_job *job, sparse *system, hw_arena *into)
{
    const hw_fem_mesh *mesh = system->mesh;
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *first = NULL, *meets = NULL, *seen = NULL, *rows = NULL;
    HW_ALLOC(job, tmp.arena, first, mesh->node_count + 2);
    HW_ALLOC(job, tmp.arena, meets, mesh->element_count * NODES);
    HW_ALLOC(job, tmp.arena, seen, mesh->node_count);
    HW_ALLOC(job, tmp.arena, rows, (size_t)mesh->element_count * PAIRS);
    for (int e = 0; e < mesh->element_count; e++)
        for (int a = 0; a < NODES; a++) first[system->elements[e][a] + 2]++;
    for (int n = 0; n < mesh->node_count; n++) first[n + 2] += first[n + 1];
    for (int e = 0; e < mesh->element_count; e++)
        for (int a = 0; a < NODES; a++) meets[first[system->elements[e][a] + 1]++] = e;
    int count = 0;
    for (int c = 0; c < mesh->node_count; c++) {
        int begin = count;
        for (int m = first[c]; m < first[c + 1]; m++)
            for (int a = 0; a < NODES; a++) {
                int r = system->elements[meets[m]][a];
                if (r < c || seen[r] == c + 1) continue;
                seen[r] = c + 1;
                rows[count++] = r;
            }
        qsort(rows + begin, (size_t)(count - begin), sizeof *rows, compare_ints);
        system->starts[c + 1] = count;
    }
    HW_ALLOC(job, into, system->rows, count);
    memcpy(system->rows, rows, (size_t)count * sizeof *rows);
    hw_scratch_end(tmp);
    return HW_OK;
}

static int find_block(const sparse *system, int row, int column)
{
    int low = system->starts[column], high = system->starts[column + 1] - 1;
    while (low < high) {
        int middle = (low + high) / 2;
        if (system->rows[middle] < row)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void find_places(sparse *system)
{
    const hw_fem_mesh *mesh = system->mesh;
    for (int e = 0; e < mesh->element_count; e++)
        for (int a = 0; a < NODES; a++)
            for (int b = 0; b <= a; b++) {
                int r = system->elements[e][a], c = system->elements[e][b];
                int at = r >= c ? find_block(system, r, c) : find_block(system, c, r);
                system->places[e][pair_of(a, b)] = at;
            }
}

static hw_status cholmod_problem(hw_job *job, const sparse *system)
{
    if (system->common.status == CHOLMOD_NOT_POSDEF)
        return hw_fail(job, HW_NO_ANSWER, "the solid is not held everywhere, or it buckles");
    if (system->common.status == CHOLMOD_OUT_OF_MEMORY ||
        system->common.status == CHOLMOD_TOO_LARGE)
        return hw_fail(job, HW_NO_MEMORY, "no memory for the factor of %d nodes",
                       system->mesh->node_count);
    if (system->common.status < CHOLMOD_OK)
        return hw_fail(job, HW_NO_ANSWER, "the sparse solver stopped with code %d",
                       system->common.status);
    return HW_OK;
}

// Renumbers the nodes in an order with little fill, children before parents.
static hw_status order_nodes(hw_job *job, sparse *system)
{
    const int nodes = system->mesh->node_count, count = system->starts[nodes];
    cholmod_sparse *graph =
        cholmod_l_allocate_sparse((size_t)nodes, (size_t)nodes, (size_t)count, true, true, -1,
                                  CHOLMOD_PATTERN, &system->common);
    if (!graph) return cholmod_problem(job, system);
    SuiteSparse_long *starts = graph->p, *rows = graph->i;
    for (int c = 0; c <= nodes; c++) starts[c] = system->starts[c];
    for (int k = 0; k < count; k++) rows[k] = system->rows[k];
    // minimum degree for sheets; for a large block nested dissection may do better: try both
    system->common.nmethods = nodes > dissect_from ? 2 : 1;
    system->common.method[0].ordering = CHOLMOD_AMD;
    system->common.method[1].ordering = CHOLMOD_METIS;
    system->common.postorder = true;
    cholmod_factor *order = cholmod_l_analyze(graph, &system->common);
    cholmod_l_free_sparse(&graph, &system->common);
    if (!order) return cholmod_problem(job, system);
    const SuiteSparse_long *node_at = order->Perm;
    for (int k = 0; k < nodes; k++) system->place[node_at[k]] = k;
    cholmod_l_free_factor(&order, &system->common);
    for (int e = 0; e < system->mesh->element_count; e++)
        for (int a = 0; a < NODES; a++)
            system->elements[e][a] = system->place[system->elements[e][a]];
    return HW_OK;
}

// The matrix's pattern: three columns for each place.
static hw_status lay_matrix(hw_job *job, sparse *system)
{
    const int nodes = system->mesh->node_count, blocks = system->starts[nodes];
    size_t n = 3 * (size_t)nodes;
    system->matrix = cholmod_l_allocate_sparse(n, n, 9 * (size_t)blocks, true, true, -1,
                                               CHOLMOD_REAL, &system->common);
    if (!system->matrix) return cholmod_problem(job, system);
    SuiteSparse_long *starts = system->matrix->p, *rows = system->matrix->i;
    for (int c = 0; c < nodes; c++) {
        int first = system->starts[c], count = system->starts[c + 1] - first;
        for (int j = 0; j < 3; j++) {
            SuiteSparse_long at = 9 * (SuiteSparse_long)first + 3 * (SuiteSparse_long)j * count;
            starts[3 * c + j] = at;
            for (int k = 0; k < 3 * count; k++)
                rows[at + k] = 3 * system->rows[first + k / 3] + k % 3;
        }
    }
    starts[n] = 9 * (SuiteSparse_long)blocks;
    return HW_OK;
}

static hw_status analyse(hw_job *job, sparse *system)
{
    HW_TRY(lay_matrix(job, system));
    system->common.nmethods = 1;
    system->common.method[0].ordering = CHOLMOD_NATURAL;
    system->common.postorder = false; // done already
    system->factor = cholmod_l_analyze(system->matrix, &system->common);
    return system->factor ? HW_OK : cholmod_problem(job, system);
}

hw_status sparse_open(hw_job *job, const hw_fem_mesh *mesh, int columns_max, hw_arena *into,
                      sparse **out)
{
    sparse *system = NULL;
    HW_ALLOC(job, into, system, 1);
    system->mesh = mesh;
    // One case, one thread: the same bytes each time. CHOLMOD 3 asks for four threads whatever the
    // machine has, and they wait for each other spinning; at level 0 none of them starts.
    openblas_set_num_threads(1);
    omp_set_max_active_levels(0);
    cholmod_l_start(&system->common);
    system->common.print = 0;
    system->common.supernodal = CHOLMOD_SUPERNODAL;
    *out = system; // from here on sparse_close is due, whatever happens
    HW_ALLOC(job, into, system->place, mesh->node_count);
    HW_ALLOC(job, into, system->elements, mesh->element_count);
    HW_ALLOC(job, into, system->starts, mesh->node_count + 1);
    HW_ALLOC(job, into, system->places, mesh->element_count);
    HW_ALLOC(job, into, system->is_held, 3 * mesh->node_count);
    memcpy(system->elements, mesh->elements, (size_t)mesh->element_count * sizeof *mesh->elements);
    HW_TRY(find_pattern(job, system, into));
    HW_TRY(order_nodes(job, system));
    HW_TRY(find_pattern(job, system, into));
    HW_ALLOC(job, into, system->kept, 9 * (size_t)system->starts[mesh->node_count]);
    HW_ALLOC(job, into, system->right, 3 * (size_t)mesh->node_count * (size_t)columns_max);
    system->columns_max = columns_max;
    find_places(system);
    return analyse(job, system);
}

void sparse_close(sparse *system)
{
    if (!system) return;
    cholmod_l_free_sparse(&system->matrix, &system->common);
    cholmod_l_free_factor(&system->factor, &system->common);
    cholmod_l_free_dense(&system->answer, &system->common);
    cholmod_l_free_dense(&system->work, &system->common);
    cholmod_l_free_dense(&system->spare, &system->common);
    cholmod_l_finish(&system->common);
}

static size_t value_bytes(const sparse *system)
{
    return 9 * (size_t)system->starts[system->mesh->node_count] * sizeof(double);
}

void sparse_clear(sparse *system)
{
    memset(system->matrix->x, 0, value_bytes(system));
}

void sparse_keep(sparse *system)
{
    memcpy(system->kept, system->matrix->x, value_bytes(system));
}

void sparse_take_back(sparse *system)
{
    memcpy(system->matrix->x, system->kept, value_bytes(system));
}

// Where block `at` of node column c begins, and how far apart its three columns lie.
static double *block_start(const sparse *system, int at, int c, int *stride)
{
    int first = system->starts[c];
    *stride = 3 * (system->starts[c + 1] - first);
    return (double *)system->matrix->x + 9 * (size_t)first + 3 * (size_t)(at - first);
}

void sparse_add_element(sparse *system, int element, const double blocks[PAIRS][9])
{
    const int *nodes = system->elements[element];
    for (int a = 0; a < NODES; a++)
        for (int b = 0; b <= a; b++) {
            int pair = pair_of(a, b), stride;
            int r = nodes[a], c = nodes[b], at = system->places[element][pair];
            const double *block = blocks[pair];
            double *x = block_start(system, at, r >= c ? c : r, &stride);
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++)
                    x[j * stride + i] += r >= c ? block[3 * i + j] : block[3 * j + i];
        }
}

void sparse_add_node(sparse *system, int node, hw_vec3 way, double stiffness)
{
    const double along[3] = {way.x, way.y, way.z};
    int stride, place = system->place[node];
    double *x = block_start(system, system->starts[place], place, &stride);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) x[j * stride + i] += stiffness * along[i] * along[j];
}

void sparse_add_bed(sparse *system, const hw_fem_bed *bed, double stiffness)
{
    const int *nodes = system->elements[bed->element];
    const double along[3] = {bed->push.x, bed->push.y, bed->push.z};
    for (int m = 0; m < 8; m++)
        for (int n = 0; n < 8; n++) {
            int a = hex_faces[bed->face][m], b = hex_faces[bed->face][n], stride;
            if (nodes[a] < nodes[b]) continue; // the lower half only
            int at = system->places[bed->element][a >= b ? pair_of(a, b) : pair_of(b, a)];
            double *x = block_start(system, at, nodes[b], &stride);
            double share = stiffness * bed->shares[m] * bed->shares[n];
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++) x[j * stride + i] += share * along[i] * along[j];
        }
}

hw_status sparse_factor(hw_job *job, sparse *system, const unsigned char *held)
{
    const SuiteSparse_long *starts = system->matrix->p, *rows = system->matrix->i;
    unsigned char *is_held = system->is_held;
    double *x = system->matrix->x;
    for (int n = 0; n < system->mesh->node_count; n++)
        memcpy(is_held + 3 * system->place[n], held + 3 * n, 3);
    for (int c = 0; c < 3 * system->mesh->node_count; c++)
        for (SuiteSparse_long k = starts[c]; k < starts[c + 1]; k++)
            if ((is_held[c] || is_held[rows[k]]) && rows[k] != c) x[k] = 0.0;
    cholmod_l_factorize(system->matrix, system->factor, &system->common);
    return cholmod_problem(job, system);
}

hw_status sparse_solve(hw_job *job, sparse *system, double *columns, int count)
{
    HW_ASSERT(count <= system->columns_max);
    const int nodes = system->mesh->node_count;
    size_t n = 3 * (size_t)nodes;
    cholmod_dense right = {.nrow = n,
                           .ncol = (size_t)count,
                           .nzmax = n * (size_t)count,
                           .d = n,
                           .x = system->right,
                           .xtype = CHOLMOD_REAL,
                           .dtype = CHOLMOD_DOUBLE};
    for (int c = 0; c < count; c++)
        for (int k = 0; k < nodes; k++)
            memcpy(system->right + (size_t)c * n + 3 * system->place[k],
                   columns + (size_t)c * n + 3 * k, 3 * sizeof *columns);
    cholmod_l_solve2(CHOLMOD_A, system->factor, &right, NULL, &system->answer, NULL, &system->work,
                     &system->spare, &system->common);
    HW_TRY(cholmod_problem(job, system));
    const double *answer = system->answer->x;
    for (int c = 0; c < count; c++)
        for (int k = 0; k < nodes; k++)
            memcpy(columns + (size_t)c * n + 3 * k, answer + (size_t)c * n + 3 * system->place[k],
                   3 * sizeof *columns);
    return HW_OK;
}
