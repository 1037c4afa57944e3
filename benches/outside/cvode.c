/* The cat by SUNDIALS CVODE: BDF, dense, root finding; the Jacobian is analytic for the
 * linear machine and made of differences for the others.
 * TOLERANCE ROUNDS KIND DENSITY VISCOSITY, the last two of the gas in the tube. Prints a JSON object: version, best time of a round in seconds,
 * inspiratory times. */

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_version.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

static const double LUNG = 6.0, AIRWAY = 0.02, CIRCUIT = 0.15, VALVE = 0.005, FLOW = 22.0;
static const double CYCLING = 10.0, PEEP = 2.0, EXPIRATION_S = 1.45, DURATION_S = 600.0;

static double valve;
static enum { LINEAR, THREE, CURVED, SIZED, SIGMOID } kind;

/* The tube of 4 mm by 19 cm: Poiseuille up to a Reynolds number of 2000, Blasius from
 * 4000 on, between them a cubic in the logarithms. */
static double laminar, turbulent, ln_flow[2], ln_pressure[2];

static void make_tube(double density, double viscosity)
{
    const double d = 0.004, l = 0.19, pa = 98.0665;
    laminar = 128 * viscosity * l / (M_PI * d * d * d * d) * 1e-6 / pa;
    turbulent = 0.3164 * 8 * density * l / (M_PI * M_PI * pow(d, 5)) *
                pow(4 * density / (M_PI * viscosity * d), -0.25) * pow(1e-6, 1.75) / pa;
    for (int i = 0; i < 2; i++)
        ln_flow[i] = log((i ? 4000 : 2000) * M_PI * viscosity * d / (4 * density) * 1e6);
    ln_pressure[0] = log(laminar) + ln_flow[0];
    ln_pressure[1] = log(turbulent) + 1.75 * ln_flow[1];
}

/* Pressure lost along it at a flow above 0, and the slope of that. */
static double lost(double q, double *slope)
{
    double x = log(q);
    if (x <= ln_flow[0]) {
        *slope = laminar;
        return laminar * q;
    }
    if (x >= ln_flow[1]) {
        double p = turbulent * pow(q, 1.75);
        *slope = 1.75 * p / q;
        return p;
    }
    double width = ln_flow[1] - ln_flow[0], rise = ln_pressure[1] - ln_pressure[0];
    double start = width, end = 1.75 * width, u = (x - ln_flow[0]) / width;
    double c2 = 3 * rise - 2 * start - end, c3 = start + end - 2 * rise;
    double p = exp(ln_pressure[0] + u * (start + u * (c2 + u * c3)));
    *slope = (start + u * (2 * c2 + u * 3 * c3)) / width * p / q;
    return p;
}

/* Flow through the tube with a resistance behind it. */
static double through(double across, double behind)
{
    double p = fabs(across), low = 0, high = p / (laminar + behind), q = high;
    if (p == 0)
        return 0;
    for (int i = 0; i < 80; i++) {
        double slope, miss = lost(q, &slope) + behind * q - p;
        if (miss > 0)
            high = q;
        else
            low = q;
        double next = q - miss / (slope + behind);
        if (fabs(next - q) <= 1e-15 * q)
            break;
        q = next > low && next < high ? next : 0.5 * (low + high);
    }
    return across < 0 ? -q : q;
}

static int rates(sunrealtype t, N_Vector y, N_Vector dy, void *data)
{
    (void)t, (void)data;
    double *p = N_VGetArrayPointer(y), *d = N_VGetArrayPointer(dy);
    double into = FLOW - valve * (p[0] - PEEP), across = p[0] - p[1];
    if (kind == THREE) {
        static const double C[] = {3, 2, 1}, R[] = {0.03, 0.06, 0.2};
        for (int i = 0; i < 3; i++) {
            double airway = (p[0] - p[i + 1]) / R[i];
            d[i + 1] = airway / C[i];
            into -= airway;
        }
        d[0] = into / CIRCUIT;
        return 0;
    }
    double airway, compliance = LUNG;
    if (kind == CURVED)
        airway = 2 * across / (AIRWAY + sqrt(AIRWAY * AIRWAY + 6e-4 * fabs(across)));
    else if (kind == SIZED)
        airway = through(across, 0.005);
    else
        airway = across / AIRWAY;
    if (kind == CURVED || kind == SIZED)
        into -= copysign(5 * sqrt(fabs(p[0]) / 30), p[0]);
    if (kind == SIGMOID) {
        /* V = 150/(1 + e^-(P - 8)/5): its slope at a pressure. */
        double e = exp(-(p[1] - 8) / 5);
        compliance = 150 * e / (5 * (1 + e) * (1 + e));
    }
    d[0] = (into - airway) / CIRCUIT;
    d[1] = airway / compliance;
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
    static const char *kinds[] = {"linear", "three", "curved", "sized", "sigmoid"};
    for (int i = 0; argc > 3 && i < 5; i++)
        if (!strcmp(argv[3], kinds[i]))
            kind = i;
    if (argc > 5)
        make_tube(atof(argv[4]), atof(argv[5]));
    int states = kind == THREE ? 4 : 2;
    SUNContext context;
#if SUNDIALS_VERSION_MAJOR >= 7
    SUNContext_Create(SUN_COMM_NULL, &context);
#else
    SUNContext_Create(NULL, &context);
#endif
    N_Vector y = N_VNew_Serial(states, context);
    N_VConst(PEEP, y);
    void *solver = CVodeCreate(CV_BDF, context);
    check(CVodeInit(solver, rates, 0.0, y), "CVodeInit");
    check(CVodeSStolerances(solver, tolerance, tolerance), "CVodeSStolerances");
    check(CVodeSetMaxNumSteps(solver, 1000000), "CVodeSetMaxNumSteps");
    SUNMatrix matrix = SUNDenseMatrix(states, states, context);
    SUNLinearSolver linear = SUNLinSol_Dense(y, matrix, context);
    check(CVodeSetLinearSolver(solver, linear, matrix), "CVodeSetLinearSolver");
    if (kind == LINEAR)
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
