/* The one file of C++: CaDiCaL's exceptions end here. Nothing else is done in it. */
#include "schedule/solver.h"

#include <cadical.hpp>

#include <new>

struct solver {
    CaDiCaL::Solver *cadical;
    bool failed;
};

template <class Call> static void guarded(struct solver *s, Call call) noexcept
{
    if (s->failed)
        return;
    try {
        call(*s->cadical);
    } catch (const std::bad_alloc &) {
        s->failed = true;
    }
}

struct solver *solver_new(bool seeks_plan)
{
    struct solver *s = new (std::nothrow) solver{nullptr, false};
    if (!s)
        return nullptr;
    try {
        s->cadical = new CaDiCaL::Solver;
        s->cadical->set("quiet", 1);
        s->cadical->set("stabilizeonly", seeks_plan);
    } catch (const std::bad_alloc &) {
        delete s;
        return nullptr;
    }
    return s;
}

void solver_add(struct solver *s, int literal)
{
    guarded(s, [=](CaDiCaL::Solver &c) { c.add(literal); });
}

enum solver_verdict solver_solve(struct solver *s, int n_conflicts)
{
    int verdict = 0;
    guarded(s, [&](CaDiCaL::Solver &c) {
        c.limit("conflicts", n_conflicts);
        verdict = c.solve();
    });
    return verdict == 10 ? SOLVER_SATISFIED : verdict == 20 ? SOLVER_REFUTED : SOLVER_OPEN;
}

bool solver_holds(struct solver *s, int variable)
{
    bool holds = false;
    guarded(s, [&](CaDiCaL::Solver &c) { holds = c.val(variable) > 0; });
    return holds;
}

bool solver_failed(const struct solver *s)
{
    return s->failed;
}

void solver_free(struct solver *s)
{
    if (s && !s->failed)
        delete s->cadical;
    delete s;
}
