import type { GuideGroup } from './section.ts';

export const SHELF: GuideGroup = {
  title: 'Shelf',
  sections: [
    {
      slug: 'dyes',
      title: 'Dyes',
      lead: 'The colourants that you buy, how deep they go, and what their data sheets say.',
      screens: ['/dyes', '/dyes/new', '/dyes/:id', '/dyes/:id/edit'],
      parts: [
        {
          heading: 'Add a dye',
          text: [
            'The [Short code] stands on cards, jars and weigh-up lines: write it on the lid. The class decides on which fibres and by which methods the dye is offered.',
            'Say [Shop-mixed] for a blend that came mixed from the shop. It can part on the goods, and its colour cannot be predicted as one dye.',
          ],
        },
        {
          heading: 'Depth bands',
          text: [
            '[Pale], [Medium] and [Deep] say where this dye’s bands lie, as its own sheet has them. They only name depths; nothing is refused by them.',
          ],
        },
        {
          heading: 'Safety',
          text: [
            'Copy the hazard codes from the safety data sheet, and keep the sheet’s address. They are shown wherever the powder is handled. They are a reminder and do not replace the sheet: read it before you open the jar, and follow your local rules.',
          ],
        },
      ],
      also: ['stock', 'container'],
    },
    {
      slug: 'auxiliaries',
      title: 'Auxiliaries',
      lead: 'Soda, salt, acid, urea, detergent: whatever goes into the pot beside dye.',
      screens: ['/auxiliaries', '/auxiliaries/new', '/auxiliaries/:id', '/auxiliaries/:id/edit'],
      parts: [
        {
          heading: 'Form, hydrate, grade',
          text: [
            'The [Form] decides whether containers are counted by mass or by volume, and stands once there is one.',
            'Look at the [Hydrate]: washing soda is nearly two thirds water, so a recipe for soda ash is not one for it.',
          ],
        },
        {
          heading: 'Cups into grams',
          text: [
            'Fill a litre jug loosely, level it, weigh it, and enter the [Bulk density of that grade]. Cups in a method are then turned into grams. Weigh again when you buy another grade.',
          ],
        },
        {
          heading: 'Kept in solution',
          text: [
            'If it stands as a solution on your shelf, say at which strength: plans then ask for millilitres. Add acid to water, never water to acid; alkali warms as it dissolves. The safety data sheet of the product in hand decides.',
          ],
        },
      ],
      also: ['methods', 'container'],
    },
    {
      slug: 'fibres',
      title: 'Fibres',
      lead: 'The cloth and yarn that you dye, with what lets a plan find the dry mass.',
      screens: ['/fibres', '/fibres/new', '/fibres/:id'],
      parts: [
        {
          heading: 'What to fill in',
          text: [
            '[Mass per area] and [Width] let a plan go by length. [Mass of a put-up] lets it go by hanks. [Regain] is needed for damp goods. Shrinkage lets you cut long enough.',
          ],
        },
        {
          heading: 'Dye needed against the library cloth',
          text: [
            '100 if it takes the dye as your swatch cloth does. Find it by dyeing both in one bath and reading both. Leave it at 100 until you have done that: a guess here changes every weigh-up on these goods.',
          ],
        },
      ],
      also: ['plan', 'stock'],
    },
    {
      slug: 'stock',
      title: 'Stock',
      lead: 'Every open container, what it holds by its ledger, and what that cost.',
      screens: ['/stock', '/stock/new'],
      parts: [
        {
          heading: 'Receive a container',
          text: [
            'One entry for each jar, with price and its share of the freight: they become the cost of what is weighed from it. Enter the maker’s lot number, since a recall is found by it. Quantity and price stand once saved. A later price belongs to a later container, and a late bill is added on the container’s page.',
            '[Strength] is against your usual powder: 110 when it takes a tenth less. Enter it before you weigh from the jar.',
          ],
        },
        {
          heading: 'What moves stock',
          text: [
            'Weighing at the bench does, by what was really weighed. Nothing else moves it by itself. Write off what was spilt, count when in doubt, and the ledger shows each with its reason.',
          ],
        },
        {
          heading: 'What to watch',
          text: [
            'The last column tells what runs low, is past its best-before, or was recalled. [Shopping list] reckons what to buy by real use.',
          ],
        },
      ],
      also: ['container', 'shopping', 'stock-worth'],
    },
    {
      slug: 'container',
      title: 'A container',
      lead: 'One jar, sack or bottle: what is in it, its ledger, and everything that it went into.',
      screens: [
        '/stock/:id',
        '/stock/:id/edit',
        '/stock/:id/stock-takes/new',
        '/stock/:id/wastes/new',
        '/stock/:id/money/new',
        '/stock/:id/closing/new',
        '/stock/:id/reopening/new',
        '/stock/:id/recall/new',
        '/stock/:id/recall-lifting/new',
        '/stock/:id/solutions/new',
        '/stock/:id/touched',
      ],
      parts: [
        {
          heading: 'Count it',
          text: [
            'Weigh what is there, without the jar, and press [Record the count]. A count says what there was when it was made. What reaches the record later for a time before it changes nothing that the count has seen, and the ledger says so.',
          ],
        },
        {
          heading: 'Write off, close, open again',
          text: [
            '[Write off] is for what was lost without dyeing anything. [Close] takes the container out of every plan; its ledger stays and ends at nothing. Closed in error: [Open it again], with a count of what is in it.',
          ],
        },
        {
          heading: 'Make a solution',
          text: [
            '[Make a solution] weighs powder out of this jar into a bottle of its own, with strength, volume and best-before. Weigh the powder in still air with a fitted respirator; in solution it no longer flies. If you weighed a little too much, make up to more water, since weighed powder does not go back into the jar.',
          ],
        },
        {
          heading: 'Late money',
          text: [
            '[Late freight, a bill or a credit] counts for what is still in stock. Closed lots keep their cost; what the late money would have changed for them shows as a price difference of its day.',
          ],
        },
        {
          heading: 'Recall',
          text: [
            '[Recall] when the shade is wrong, the strength is wrong or the maker says so. The container and the solutions made from it are offered to no plan from then on. [What it went into] lists every lot, swatch, order and customer it touched: print it, and tell the customers. The owner can lift a recall; both stay told.',
          ],
        },
      ],
      also: ['stock', 'stock-worth'],
    },
    {
      slug: 'shopping',
      title: 'Shopping list',
      lead: 'What to buy, by what was really used and what planned lots still want.',
      screens: ['/stock/shopping'],
      parts: [
        {
          heading: 'How it is reckoned',
          text: [
            'What was used a day over the [Days looked at], times the days [Until a parcel comes] and the days of [Safety] together: below that it is time to order. [To last] says for how long to buy. What planned lots still want comes on top.',
            'A dye used twice a year looks as if it were never used. Read the list as advice, and look at [Planned lots want].',
          ],
        },
      ],
      also: ['stock'],
    },
  ],
};
