import type { GuideGroup } from './section.ts';

export const GENERAL: GuideGroup = {
  title: 'Begin here',
  sections: [
    {
      slug: 'first-day',
      title: 'The first day',
      lead: 'From an empty studio to the first lot, or a look round the sample studio.',
      screens: ['/first-run'],
      parts: [
        {
          heading: 'What has to be there before you plan',
          text: [
            'A plan needs goods, dyes, a method and a recipe. Enter only what you will dye with this week. The rest can follow, or come from a spreadsheet by [Import].',
          ],
          steps: [
            'Fibres: the cloth or yarn that you dye most. Its regain and its mass per area let a plan find the dry mass.',
            'Dyes: each with a short code and its class.',
            'Stock: one container for each jar on the shelf, with what you paid.',
            'Methods: the steps with their times, and what goes into the bath.',
            'Recipes: the formula of a shade.',
            'Plan a lot, take it to the bench, finish it.',
          ],
        },
        {
          heading: 'You have dyed samples already',
          text: [
            'Enter them as swatches, with formula, goods, method and a colour reading. Then plan from a swatch instead of from a recipe: depth and method come with it. Predictions of colours rest on your swatches too; with fewer than some twenty of a kind, their ± is a wide guess.',
          ],
        },
        {
          heading: 'The sample studio',
          text: [
            'An invented dye works with a year of lots, to look round in. Try everything there. For your own work start the service on an empty data folder (`DATA_DIR`), so that invented lots and real ones never stand in one record.',
          ],
        },
      ],
      also: ['words', 'typing', 'imports'],
    },
    {
      slug: 'words',
      title: 'Words used here',
      lead: 'The trade’s words, where two of them are easily confused.',
      screens: [],
      parts: [
        {
          heading: 'Lot and container',
          text: [
            'A lot is a production batch: everything that is dyed in one go. Goods of one lot carry one lot number, and match each other. Goods of two lots may not.',
            'A container is one jar, sack or bottle on the shelf, with a price and a maker’s lot number of its own. Two jars of the same dye are two containers: they can differ in strength and in shade.',
          ],
        },
        {
          heading: 'Depth, share and owg',
          text: [
            'Depth is the mass of dye for each mass of dry goods: 2 % is 20 g of powder for 1 kg. That is what owg means, on weight of goods. A total depth can be split into shares (2 % split 50/30/20), or each dye has its own depth (1 %, 0.6 %, 0.4 %). It is the same recipe.',
            'Every percentage goes by the dry mass. Take damp goods for dry, and you weigh too much dye: the lot comes out deeper than its swatch.',
          ],
        },
        {
          heading: 'Bath, liquor ratio, owg and g/L',
          text: [
            'A liquor ratio of 20:1 is 20 L of bath for 1 kg of dry goods. Dye and mordant go with the goods (% owg). Salt and soda ash in a bath go with the water (g/L): change the ratio and their amounts change, while the dye stays as it was.',
          ],
        },
        {
          heading: 'Regain',
          text: [
            'The water that goods hold in the air of a room, on their oven-dry mass. It is 8.5 % for cotton and 12 % for flax. It lets a plan work out the dry mass of goods that you weighed damp.',
          ],
        },
        {
          heading: 'First quality, seconds, rework, scrap',
          text: [
            'First quality sells at the full price, seconds at a lower one. Rework will be dyed again. Scrap is lost. The good pieces carry what the others cost.',
          ],
        },
        {
          heading: 'ΔE',
          text: [
            'How far two colours lie apart. Around 1 a trained eye sees the difference side by side; at 5 anybody does. The number depends on the formula, so each screen names it. Compare only figures by the same formula.',
          ],
        },
      ],
    },
    {
      slug: 'typing',
      title: 'What you may type',
      lead: 'Type quantities as you say them. The unit may stand behind the number.',
      screens: [],
      parts: [
        {
          heading: 'Quantities',
          text: [
            'Mass: `250 g`, `1.2 kg`, `1 lb 4 oz`. Volume: `150 mL`, `2 L`, `2½ cups`. Length: `1,5 m`, `1.5 yd`. Cloth: `190 g/m²`, `5 oz/yd²`, `16 momme`. Yarn counts as on the label: `2/30`, `30/2`.',
            'Time: `20 min`, `1 h 30`. Share: `2 %`, `70/30`, `2:1`. Bath: `20:1`, `50 g/L`.',
            'A number without a unit is read in the unit beside the field. A comma or a point may stand before the decimals. Where `1,500` could be read two ways, you are asked.',
          ],
        },
        {
          heading: 'Cups and spoons',
          text: [
            'A cup of powder is turned into grams only for an auxiliary whose page has a bulk density for its grade. Two grades of soda ash differ by half as much again, so a cup without a grade says nothing.',
          ],
        },
        {
          heading: 'When something is refused',
          text: [
            'The form comes back with all that you typed, and the reason stands beside the field. Nothing was saved. Put it right and send it again.',
            'If somebody else has changed the same thing meanwhile, both versions are shown. Nothing of theirs is overwritten without your having seen it.',
          ],
        },
      ],
    },
    {
      slug: 'today',
      title: 'Today',
      lead: 'What needs a hand now: what is on the bench, what is due, what runs short, and what the record asks.',
      screens: ['/'],
      sends: ['/questions/:id/answer'],
      parts: [
        {
          heading: 'What stands here',
          text: [
            '[On the bench] shows each lot with the step that runs and the time it has left. [Planned] waits for you to begin. [Orders in hand] come by due day. [Shelf to watch] names containers that run low or pass their best-before. [Waiting for a colour reading] lists finished lots that nobody has read: a lot without a reading teaches the library nothing.',
          ],
        },
        {
          heading: 'Questions',
          text: [
            'Some things the record cannot settle by itself. A weighing reaches it after its lot was finished. A count no longer fits the ledger. Then the question stands here, with what is known. What really happened is recorded in any case, at its own time; you say whether it stands.',
            'Some questions are the owner’s to answer, and say so. Nothing is lost while a question waits.',
          ],
        },
        {
          heading: 'The backup warning',
          text: [
            'It appears when the last good backup is older than you chose under [Backup], in Settings. Do not get used to it: one disk fails without notice.',
          ],
        },
      ],
      also: ['bench', 'stock', 'backup'],
    },
  ],
};
