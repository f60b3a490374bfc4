/* SPDX-License-Identifier: GPL-3.0-or-later */
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
        s->cadical->set("lucky",
                        0); /* none of its guesses was ever a plan; they take half the time of a short question */
    } catch (const std::bad_alloc &) {
        delete s->cadical;
        delete s;
        return nullptr;
    }
    return s;
}

void solver_add(struct solver *s, int literal)
{
    guarded(s, [=](CaDiCaL::Solver &c) { c.add(literal); });
}

namespace
{
/* From each conflict one clause is learnt. */
struct counter : CaDiCaL::Learner {
    long n = 0;
    bool learning(int) override
    {
        n++;
        return false;
    }
    void learn(int) override
    {
    }
};

struct looker : CaDiCaL::Terminator {
    const struct solver_look *look;
    bool terminate() override
    {
        return !look->go_on(look->context, look->value);
    }
};
} // namespace

enum solver_verdict solver_solve(struct solver *s, int n_conflicts, const struct solver_look *look, long *n_met)
{
    int verdict = 0;
    counter counted;
    looker looks;
    looks.look = look;
    guarded(s, [&](CaDiCaL::Solver &c) {
        c.limit("conflicts", n_conflicts);
        c.connect_learner(&counted);
        if (look)
            c.connect_terminator(&looks);
        verdict = c.solve();
        c.disconnect_learner();
        if (look)
            c.disconnect_terminator();
    });
    *n_met = counted.n;
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

/* One that memory failed in the middle of its work cannot be trusted to end itself: it is left. */
void solver_free(struct solver *s)
{
    if (s && !s->failed)
        delete s->cadical;
    delete s;
}
