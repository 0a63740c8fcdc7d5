#include "rectify/patch.h"

#include <math.h>

/* A corner that is further off than this share of its side may not be there at all. */
static const double FURTHEST = 0.03;

/* Side to look at, its marked offsets at the nodes, and the model's edge there. */
typedef struct edge_nodes {
    double off[SL_PATCH_NODES];
    sl_point normal[SL_PATCH_NODES];
    sl_point tangent[SL_PATCH_NODES];    /* unit */
    double length;                       /* px */
} edge_nodes;

static double node_place(size_t i)
{
    return (double)i / (SL_PATCH_NODES - 1) - 0.5;
}

/* Runs of marked blocks of one side that reach one of its ends. Blocks are in outline order. */
static void keep_end_runs(bool *kept, const sl_fit_point *block, const bool *marked,
                          size_t count, size_t side)
{
    size_t first = count;
    size_t last = 0;

    for (size_t i = 0; i < count; i++)
        if ((size_t)block[i].side == side) {
            first = i < first ? i : first;
            last = i;
        }
    for (size_t i = first; i <= last && i < count && marked[i]; i++)
        kept[i] = true;
    for (size_t i = last; first < count && i >= first && marked[i]; i--) {
        kept[i] = true;
        if (i == 0)
            break;
    }
}

/* The block of a side next to `along` below (step -1) or above it, other than `not`. */
static size_t neighbour(const sl_fit_point *block, size_t count, size_t side, double along,
                        double step, size_t not)
{
    size_t best = count;

    for (size_t i = 0; i < count; i++)
        if ((size_t)block[i].side == side && i != not && step * (block[i].along - along) >= 0.0
            && (best == count || step * (block[i].along - block[best].along) < 0.0))
            best = i;
    return best;
}

/* Offset at a place along the side: through the two nearest blocks' kept ones, else 0. */
static double offset_at(const sl_fit_point *block, const bool *kept, size_t count, size_t side,
                        double along)
{
    size_t a = neighbour(block, count, side, along, -1.0, count);
    size_t b = neighbour(block, count, side, along, 1.0, a);

    /* beyond the last block the line through the last two goes on */
    if (a == count && b < count)
        a = neighbour(block, count, side, block[b].along, 1.0, b);
    else if (b == count && a < count)
        b = neighbour(block, count, side, block[a].along, -1.0, a);
    if (a == count || b == count || !(fabs(block[b].along - block[a].along) > 0.0))
        return 0.0;

    const double t = (along - block[a].along) / (block[b].along - block[a].along);

    return (1.0 - t) * (kept[a] ? block[a].off : 0.0) + t * (kept[b] ? block[b].off : 0.0);
}

static void read_edge(edge_nodes *edge, const sl_view *view, const sl_fit_point *block,
                      const bool *kept, size_t count, size_t side)
{
    const size_t k = side == SL_TOP || side == SL_BOTTOM ? 0 : 1;
    sl_point before = { 0.0, 0.0 };

    edge->length = 0.0;
    for (size_t i = 0; i < SL_PATCH_NODES; i++) {
        double tangent[4];
        double p;
        double q;

        sl_fit_edge_place(&p, &q, (sl_side)side, node_place(i));

        const sl_point px = sl_view_point(tangent, NULL, view, p, q);
        const double size = hypot(tangent[k], tangent[2 + k]);

        edge->tangent[i] = (sl_point){ tangent[k] / size, tangent[2 + k] / size };
        edge->normal[i] = (sl_point){ -edge->tangent[i].y, edge->tangent[i].x };
        edge->off[i] = offset_at(block, kept, count, side, node_place(i));
        if (i > 0)
            edge->length += hypot(px.x - before.x, px.y - before.y);
        before = px;
    }
}

/* The corner's move from how far each of its two edges moved across itself. */
static sl_point corner_move(sl_point n1, double off1, sl_point n2, double off2)
{
    const double det = n1.x * n2.y - n1.y * n2.x;

    return (sl_point){ (off1 * n2.y - off2 * n1.y) / det, (n1.x * off2 - n2.x * off1) / det };
}

bool sl_patch_fit(sl_page_map *map, const sl_fit_point *block, const bool *marked, size_t count)
{
    /* corner c: its two sides, and which end of each: 0 where u or v begins */
    static const struct { size_t side[2]; size_t end[2]; } corners[4] = {
        { { SL_TOP, SL_LEFT }, { 0, 0 } },
        { { SL_TOP, SL_RIGHT }, { 1, 0 } },
        { { SL_BOTTOM, SL_RIGHT }, { 1, 1 } },
        { { SL_BOTTOM, SL_LEFT }, { 0, 1 } },
    };
    bool kept[SL_FIT_POINTS] = { false };
    edge_nodes edge[4];
    double along[4][2];      /* the corners' moves along each side at its ends, px */
    double most = 0.0;
    double shortest = INFINITY;
    sl_view view;

    for (size_t s = 0; s < 4; s++)
        keep_end_runs(kept, block, marked, count, s);
    sl_view_set(&view, map, NULL);
    for (size_t s = 0; s < 4; s++) {
        read_edge(edge + s, &view, block, kept, count, s);
        shortest = fmin(shortest, edge[s].length);
        for (size_t i = 0; i < SL_PATCH_NODES; i++)
            most = fmax(most, fabs(edge[s].off[i]));
    }
    if (!(most > 0.0) || most > FURTHEST * shortest)
        return false;
    for (size_t c = 0; c < 4; c++) {
        const edge_nodes *const a = edge + corners[c].side[0];
        const edge_nodes *const b = edge + corners[c].side[1];
        const size_t i = corners[c].end[0] * (SL_PATCH_NODES - 1);
        const size_t k = corners[c].end[1] * (SL_PATCH_NODES - 1);
        const sl_point move = corner_move(a->normal[i], a->off[i], b->normal[k], b->off[k]);

        along[corners[c].side[0]][corners[c].end[0]] =
            move.x * a->tangent[i].x + move.y * a->tangent[i].y;
        along[corners[c].side[1]][corners[c].end[1]] =
            move.x * b->tangent[k].x + move.y * b->tangent[k].y;
    }
    for (size_t s = 0; s < 4; s++)
        for (size_t i = 0; i < SL_PATCH_NODES; i++) {
            const edge_nodes *const e = edge + s;
            const double t = (double)i / (SL_PATCH_NODES - 1);
            /* along the edge a corner's move dies out by arc length, over a third of it */
            const double low = fmax(1.0 - 3.0 * t, 0.0);
            const double high = fmax(3.0 * t - 2.0, 0.0);
            const double slide = low * low * along[s][0] + high * high * along[s][1];

            map->patch[s][i] =
                (sl_point){ e->off[i] * e->normal[i].x + slide * e->tangent[i].x,
                            e->off[i] * e->normal[i].y + slide * e->tangent[i].y };
        }
    map->model = SL_MODEL_PATCH;
    return true;
}
