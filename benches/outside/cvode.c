/* The linear cat by SUNDIALS CVODE: BDF, dense, analytic Jacobian, root finding.
 * TOLERANCE ROUNDS. Prints a JSON object: version, best time of a round in seconds,
 * inspiratory times. */

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_version.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

static const double LUNG = 6.0, AIRWAY = 0.02, CIRCUIT = 0.15, VALVE = 0.005, FLOW = 22.0;
static const double CYCLING = 10.0, PEEP = 2.0, EXPIRATION_S = 1.45, DURATION_S = 600.0;

static double valve;

static int rates(sunrealtype t, N_Vector y, N_Vector dy, void *data)
{
    (void)t, (void)data;
    double *p = N_VGetArrayPointer(y), *d = N_VGetArrayPointer(dy);
    double airway = (p[0] - p[1]) / AIRWAY;
    d[0] = (FLOW - airway - valve * (p[0] - PEEP)) / CIRCUIT;
    d[1] = airway / LUNG;
    return 0;
}

static int jacobian(sunrealtype t, N_Vector y, N_Vector fy, SUNMatrix j, void *data, N_Vector a,
                    N_Vector b, N_Vector c)
{
    (void)t, (void)y, (void)fy, (void)data, (void)a, (void)b, (void)c;
    SM_ELEMENT_D(j, 0, 0) = (-1 / AIRWAY - valve) / CIRCUIT;
    SM_ELEMENT_D(j, 0, 1) = 1 / AIRWAY / CIRCUIT;
    SM_ELEMENT_D(j, 1, 0) = 1 / AIRWAY / LUNG;
    SM_ELEMENT_D(j, 1, 1) = -1 / AIRWAY / LUNG;
    return 0;
}

static int reached(sunrealtype t, N_Vector y, sunrealtype *g, void *data)
{
    (void)t, (void)data;
    g[0] = N_VGetArrayPointer(y)[0] - CYCLING;
    return 0;
}

static void check(int flag, const char *what)
{
    if (flag < 0) {
        fprintf(stderr, "%s failed: %d\n", what, flag);
        exit(1);
    }
}

/* A run of ten minutes; how many breaths it had. */
static int run(void *solver, N_Vector y, double *times, int room)
{
    int count = 0;
    double now = 0.0, spent;
    N_VConst(PEEP, y);
    for (;;) {
        valve = 0.0;
        check(CVodeReInit(solver, 0.0, y), "CVodeReInit");
        check(CVodeRootInit(solver, 1, reached), "CVodeRootInit");
        check(CVodeSetStopTime(solver, 5.0), "CVodeSetStopTime");
        int flag = CVode(solver, 5.0, y, &spent, CV_NORMAL);
        check(flag, "CVode");
        valve = 1 / VALVE;
        double end;
        check(CVodeReInit(solver, 0.0, y), "CVodeReInit");
        check(CVodeRootInit(solver, 0, NULL), "CVodeRootInit");
        check(CVodeSetStopTime(solver, EXPIRATION_S), "CVodeSetStopTime");
        check(CVode(solver, EXPIRATION_S, y, &end, CV_NORMAL), "CVode");
        now += spent + EXPIRATION_S;
        if (now > DURATION_S || count == room)
            return count;
        times[count++] = spent;
    }
}

int main(int argc, char **argv)
{
    double tolerance = argc > 1 ? atof(argv[1]) : 1e-10;
    int rounds = argc > 2 ? atoi(argv[2]) : 5;
    SUNContext context;
#if SUNDIALS_VERSION_MAJOR >= 7
    SUNContext_Create(SUN_COMM_NULL, &context);
#else
    SUNContext_Create(NULL, &context);
#endif
    N_Vector y = N_VNew_Serial(2, context);
    N_VConst(PEEP, y);
    void *solver = CVodeCreate(CV_BDF, context);
    check(CVodeInit(solver, rates, 0.0, y), "CVodeInit");
    check(CVodeSStolerances(solver, tolerance, tolerance), "CVodeSStolerances");
    check(CVodeSetMaxNumSteps(solver, 1000000), "CVodeSetMaxNumSteps");
    SUNMatrix matrix = SUNDenseMatrix(2, 2, context);
    SUNLinearSolver linear = SUNLinSol_Dense(y, matrix, context);
    check(CVodeSetLinearSolver(solver, linear, matrix), "CVodeSetLinearSolver");
    check(CVodeSetJacFn(solver, jacobian), "CVodeSetJacFn");

    static double times[1000];
    double best = 1e9;
    int count = 0;
    for (int round = 0; round < rounds; round++) {
        struct timespec from, to;
        clock_gettime(CLOCK_MONOTONIC, &from);
        count = run(solver, y, times, 1000);
        clock_gettime(CLOCK_MONOTONIC, &to);
        double s = (to.tv_sec - from.tv_sec) + 1e-9 * (to.tv_nsec - from.tv_nsec);
        best = s < best ? s : best;
    }
    printf("{\"version\": \"%s\", \"seconds\": %.9g, \"times\": [", SUNDIALS_VERSION, best);
    for (int i = 0; i < count; i++)
        printf("%s%.17g", i ? ", " : "", times[i]);
    printf("]}\n");
    return 0;
}
