/** Exact: the international inch (agreement of 1959). */
export const MM_PER_INCH = 25.4;
