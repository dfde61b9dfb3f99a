/** The words by which a lot is kept, each list once: the tables, the schemas and the calculations take it from here. */

export const LOT_STATUSES = ['planned', 'onBench', 'finished', 'abandoned'] as const;
/** How the mass of the goods was found. */
export const WAYS_TO_FIND_MASS = ['weighedDry', 'weighedDamp', 'fromArea', 'fromPutUps', 'stated'] as const;
/** How several colours lie on one piece. */
export const COVERAGES = ['eachOverAll', 'eachOverItsShare'] as const;
/** What can be done about a line that is over its target. */
export const WAYS_OUT = ['moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade'] as const;
