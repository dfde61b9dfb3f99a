import type { GuideGroup } from './section.ts';

export const BOOKS: GuideGroup = {
  title: 'Books',
  sections: [
    {
      slug: 'costing',
      title: 'Costing',
      lead: 'What dyeing cost, by what it was for, with the estimate beside it.',
      screens: ['/costing', '/costing/lines', '/costing/shades/:id'],
      parts: [
        {
          heading: 'Choose the view',
          text: [
            'By lot, order, customer, shade, method, fibre or month. [Days and conditions] narrows it. Every figure opens to the cost lines that it is the sum of: if you doubt one, open it and add it up.',
          ],
        },
        {
          heading: 'Why a shade costs more now',
          text: [
            'A shade’s page splits the change between two times exactly into prices, quantities and hours. Often the price of powder is the smallest of the three.',
          ],
        },
        {
          heading: 'Lots for several customers',
          text: [
            'One rule shares the cost of such a lot out over its order lines, in every view and file. The parts add to the lot, to the smallest coin.',
          ],
        },
        {
          heading: 'What it is not',
          text: [
            'Costs are what was recorded. How stock is valued for tax and how labour is classed is your accountant’s word.',
          ],
        },
      ],
      also: ['lot-cost', 'stock-worth', 'history'],
    },
    {
      slug: 'lot-cost',
      title: 'Cost of a lot',
      lead: 'Every line of one lot’s cost, and the way to set one right without rewriting it.',
      screens: ['/costing/lots/:id', '/costing/lots/:id/additions/new', '/costing/lines/:id/correction/new'],
      sends: ['/costing/lines/:id/correction'],
      parts: [
        {
          heading: 'Correct a line',
          text: [
            'The owner opens the line and says what should stand, and why. The wrong line is taken back by one of the opposite sign, the right one stands below it, and the stock ledger is set right too. Nothing is edited.',
          ],
        },
        {
          heading: 'Add what was forgotten',
          text: [
            '[Add a forgotten cost] takes a material, hands, overhead, a bill or a credit as a line of today, with the reason. It moves the lot’s total and the views of the days that the lot belongs to.',
          ],
        },
        {
          heading: 'Rework',
          text: [
            'If this lot dyed pieces of another lot again, say which under [It dyed pieces of another lot again]. Its cost then counts as that lot’s rework.',
          ],
        },
      ],
      also: ['costing', 'finish'],
    },
    {
      slug: 'stock-worth',
      title: 'What stock is worth',
      lead: 'For the end of any day: paid is issued, written off or in stock, for each material, to the smallest coin.',
      screens: ['/costing/stock'],
      parts: [
        {
          heading: 'Read the table',
          text: [
            '[Paid] equals [Issued] plus [Written off] plus [In stock]. Choose the last day of the year for the books. A price difference is late money for material that had left already.',
          ],
        },
        {
          heading: 'By the jar or at a moving average',
          text: [
            'Settings decide under [Dyes and auxiliaries are valued]. It holds for lots finished from then on; closed lots keep the way that they were valued by. Ask your accountant which one your books keep before you switch.',
          ],
        },
      ],
      also: ['container', 'settings'],
    },
    {
      slug: 'history',
      title: 'Batch history',
      lead: 'Closed lots of any range of days, as a page and as files that tie to the ledger.',
      screens: ['/history'],
      parts: [
        {
          heading: 'Files',
          text: [
            'One row a lot, or one row a cost line, as CSV or XLSX. [What the columns of the files mean] explains each column, and so does a sheet of the workbook.',
          ],
        },
        {
          heading: 'Proof',
          text: [
            '[Ties to the ledger] holds the cost lines against the stock ledger. A difference is explained line by line there: rounding, moving averages and corrected rates. If it says anything else, do not send the file; run `npm run verify`.',
          ],
        },
      ],
      also: ['exports', 'costing'],
    },
    {
      slug: 'exports',
      title: 'Saved exports',
      lead: 'A file that you want every month, under one name and one address.',
      screens: ['/exports', '/exports/new', '/exports/:id/edit'],
      parts: [
        {
          heading: 'Save one',
          text: [
            'Choose rows, file, days, conditions and columns once. [Days] such as last month move with the calendar. None ticked means all columns.',
            'A script gets the same file from `/api/v1/exports/saved/1.xlsx`, with the number of the export in the address and a token that may read.',
          ],
        },
      ],
      also: ['history', 'scripts'],
    },
  ],
};
