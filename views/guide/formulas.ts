import type { GuideGroup } from './section.ts';

export const FORMULAS: GuideGroup = {
  title: 'Formulas',
  sections: [
    {
      slug: 'recipes',
      title: 'Recipes',
      lead: 'The formula of one shade, in revisions that never change.',
      screens: [
        '/recipes',
        '/recipes/new',
        '/recipes/:id',
        '/recipes/:id/edit',
        '/recipes/:id/revisions/new',
        '/recipes/formula',
      ],
      parts: [
        {
          heading: 'Write one',
          text: [
            'State it as [Shares of a total depth] or as [A depth for each dye]; the other way is shown beside it. One recipe is one class of dye, since one bath is.',
            '[Shares in one line] takes `50/30/20` or `2:1` for the rows above.',
          ],
        },
        {
          heading: 'Change one',
          text: [
            '[New revision] makes a new formula under the same name. The one before stays, with every swatch and lot that was dyed by it. So you may try things: nothing that you have dyed loses its formula.',
            '[Name and note] changes only these.',
          ],
        },
        {
          heading: 'Use one',
          text: [
            '[On how much goods?] gives the grams for a mass. [Plan a lot in this shade] takes it to a plan. [What would it look like?] asks your swatches for the colour to expect.',
          ],
        },
      ],
      also: ['plan', 'proposals'],
    },
    {
      slug: 'methods',
      title: 'Methods',
      lead: 'A procedure that comes out the same each time: steps, times, baths, and what goes into them.',
      screens: ['/methods', '/methods/new', '/methods/:id', '/methods/:id/edit'],
      parts: [
        {
          heading: 'Steps',
          text: [
            'Give each step its planned time, its temperature, and the time that hands are on it. The last one becomes labour in a lot’s estimate; an overnight rest costs nobody’s hands.',
          ],
        },
        {
          heading: 'What goes in',
          text: [
            'Each line by its own measure. Dye and mordant go with the goods: `2 %`. Salt and soda ash in a bath go with the water: `50 g/L`. A line that is stated by the wrong one is right for one size of lot and wrong for all others.',
            'Choose under [Into] whether it goes into the bath or into the soak.',
          ],
        },
        {
          heading: 'Bath, soak and loss',
          text: [
            '[Bath to goods] is the liquor ratio. [Loss allowance] is dye that drips or rinses away before it meets the cloth, as with ice dyeing: the depth is then powder applied, and does not compare with a pot.',
          ],
        },
        {
          heading: 'What the bench asks for, and cautions',
          text: [
            'Under [What the bench asks for] name what this method has that others have not: ice mass, fold, dips. Write a caution for the moment at which it is needed. The usual ones of the dye class come by themselves. The safety data sheet and your local rules always win.',
          ],
        },
        {
          heading: 'Change one',
          text: [
            'Lots keep the steps that they were planned with. [Start from a copy] keeps the old method beside the new one.',
          ],
        },
      ],
      also: ['plan', 'auxiliaries'],
    },
  ],
};
