import type { GuideGroup } from './section.ts';

export const LIBRARY: GuideGroup = {
  title: 'Swatch library and colour',
  sections: [
    {
      slug: 'swatches',
      title: 'Swatch library',
      lead: 'Every dyed sample with its formula, goods, method, containers and colour, and the way to repeat it.',
      screens: [
        '/swatches',
        '/swatches/new',
        '/swatches/:id',
        '/swatches/:id/edit',
        '/swatches/:id/card',
        '/swatches/:id/weigh-up',
      ],
      sends: ['/readings/:id/withdrawal'],
      parts: [
        {
          heading: 'Find one',
          text: [
            'Choose a hue, or type under [Find]: name, card, dye, goods, place and note are searched. [More filters] narrows by goods, method, dye and depth, and to what you can dye from stock. The address in the browser holds the filters: keep it as a bookmark.',
          ],
        },
        {
          heading: 'Repeat it',
          text: [
            'Open the swatch, type the dry mass under [Repeat it], and choose other goods or another depth if you like. The grams follow. [Plan a lot of this] takes all of it into a plan.',
            'On other goods the shade can differ although the formula is the same. A fibre’s page holds how much dye it needs against your library cloth. Dye a sample first where it matters.',
          ],
        },
        {
          heading: 'Add one',
          text: [
            'From a finished lot, use [Make a swatch of it] on the lot’s page: formula, goods, method and containers come from what was really weighed. Enter older samples with [Add a swatch].',
            'Read the colour dry, cooled, and in more than one place. Say how you got it: [an instrument], or [typed from elsewhere].',
          ],
        },
        {
          heading: 'What stays',
          text: [
            'Formula, goods and depth stand as they were dyed. Name, place, note, rating and photo can change. A wrong reading is withdrawn with [Withdraw]; it stays told. A card that is [Put away] leaves the wall and can be found again.',
          ],
        },
        {
          heading: 'On paper',
          text: [
            '[Print the card] gives one page with the formula, a place for the sample and a QR code that opens the swatch. Go by the sample and not by the printed patch.',
          ],
        },
      ],
      also: ['near', 'plan', 'lots', 'knowledge'],
    },
    {
      slug: 'near',
      title: 'Near a colour',
      lead: 'Say which colour you want. The nearest swatches stand beside it, with how far off they are and which way.',
      screens: ['/swatches/near'],
      parts: [
        {
          heading: 'Say which colour',
          text: [
            'Pick it by hue, chroma and lightness. Type it as L* a* b* or as a colour code. Take it from a photo with a reference card. Or open a swatch or a lot and choose [Near this colour].',
          ],
        },
        {
          heading: 'Read the answer',
          text: [
            'Each swatch has its ΔE, the name of the formula, what that means in words, and which way it lies: darker, duller, redder. Variegated goods count by their nearest colour.',
            'A reading under another light or observer is adapted by the Bradford transform, and the page says so. That is an estimate. Two colours that match under one light can differ under another: judge the cloth where it will be seen.',
          ],
        },
        {
          heading: 'What a screen cannot do',
          text: [
            'A colour on a screen is for finding, not for approving. Vivid turquoises and oranges lie outside what screens show.',
          ],
        },
      ],
      also: ['photo', 'proposals', 'swatches'],
    },
    {
      slug: 'photo',
      title: 'Colour from a photo',
      lead: 'A phone’s photo with a card of known patches in it tells the colour of cloth well enough to find what is near.',
      screens: [
        '/photo-readings/new',
        '/photo-readings/:id',
        '/photo-readings/:id/result',
        '/reference-cards',
        '/reference-cards/new',
        '/reference-cards/:id',
      ],
      sends: ['/photo-readings'],
      parts: [
        {
          heading: 'Take the photo',
          text: [],
          steps: [
            'Lay the card flat beside the dry goods, in the same light. Daylight from one window is best; two kinds of light on one photo spoil it.',
            'Hold the phone straight above. No shadow of yours, no shine on the patches.',
            'Choose under [Which card] what lies in the photo. A 24-patch chart says most. A grey card sets right lightness and cast, and no more.',
          ],
        },
        {
          heading: 'Point at the goods',
          text: [
            'A chart is found by itself. If it is not, drag the four rings onto the middles of its corner patches. A plain grey card is never looked for: show its [Corners].',
            'Tap [Spots] or draw round an [Area]. For variegated goods say [several colours, as they show]: you get three to six colours with their shares.',
          ],
        },
        {
          heading: 'How sure it is',
          text: [
            'The ± holds nine times in ten, as far as the card can tell. Each patch of the card shows how far off it comes out by a fit that did not see it. Patches far off mean shine, shade or mixed light: take the photo again.',
            'A phone is no spectrophotometer. Use a photo to find what is near and to fill the library, never to approve a shade.',
          ],
        },
        {
          heading: 'A card of your own',
          text: [
            'Any flat thing of even patches serves once an instrument has measured each patch: paint chips, felt, dyed cloth on board. Add it with [Add a card], one line for each patch, row by row. From eight patches on it is found by itself.',
          ],
        },
      ],
      also: ['near', 'sampling'],
    },
    {
      slug: 'proposals',
      title: 'Recipes for a colour',
      lead: 'What a recipe would look like, which recipes would give a colour, and what to add to a lot that is off shade.',
      screens: ['/colour/proposals', '/colour/predicted', '/lots/:id/correction'],
      parts: [
        {
          heading: 'What it rests on',
          text: [
            'Your own swatches and nothing else, each goods and method by itself. There is no general model of dyes behind it: your water, your hands and your jars are in your swatches.',
            'Every predicted colour carries the ± that nine of ten dyeings should stay within, and the swatches that it rests on. Outside your swatches it says that it has no idea. Believe it.',
            'The ± is for these goods and this method alone. It is wider where a dye is paler or deeper than any swatch with it: less powder is not a surer colour. A swatch with a curve from an instrument tells how a colour looks under every lamp; without curves, another lamp is an estimate with a ± of its own.',
            'Swatches added a moment ago are taken in at once. While the page says that it is learning from them, the model from before answers; the new one is there within seconds.',
          ],
        },
        {
          heading: 'Find a recipe',
          text: [
            'Choose the colour, the goods, the method and the dyes that you allow. You get a few recipes, nearest first, with how each holds under lamp light, and real swatches that lie near. Often a real swatch is the better start. Each proposal says what its dye costs, how sure it is, and what one trial would do to its ±.',
            '[Plan a trial] weighs up a small piece. Dye it, read it, and the next proposal is better.',
          ],
        },
        {
          heading: 'Correct an off-shade lot',
          text: [
            'Only additions are proposed, since nothing can be taken out of cloth. Start with half of what it says, dye it through, dry a piece and judge. Then decide on the other half.',
            'Where no addition helps, it says so. Strip, overdye darker, or sell as seconds.',
          ],
        },
      ],
      also: ['knowledge', 'sampling'],
    },
    {
      slug: 'knowledge',
      title: 'What the swatches teach',
      lead: 'How well each dye is known on which goods, and where the library has gaps.',
      screens: ['/colour/knowledge', '/colour/map'],
      sends: ['/colour/undyed'],
      parts: [
        {
          heading: 'How well a dye is known',
          text: [
            'The table counts swatches of each dye [Alone] and [In mixtures], the depths that they cover, and how far predictions were off on swatches held out while learning. A dye without a swatch of its own is a guess in every mixture.',
          ],
        },
        {
          heading: 'The goods before dyeing',
          text: [
            'Read the scoured, undyed goods once and enter them under [The goods before dyeing]. Pale shades are mostly cloth: without it, an ordinary white is assumed.',
          ],
        },
        {
          heading: 'The map',
          text: [
            '[Library map] shows where your swatches lie by hue, chroma and lightness, and where there are none although there are some around. [What to sample next] turns the gaps into recipes to dye.',
          ],
        },
      ],
      also: ['sampling', 'proposals'],
    },
    {
      slug: 'sampling',
      title: 'Sampling',
      lead: 'Many small pieces at once by stock solution: ladders, blends and triangles, and their colours into the library.',
      screens: [
        '/sampling',
        '/sampling/new',
        '/sampling/preview',
        '/sampling/:id',
        '/sampling/:id/sheet',
        '/sampling/:id/labels',
        '/sampling/:id/photo/:photoId',
        '/sampling/next',
      ],
      parts: [
        {
          heading: 'Choose a set',
          text: [
            'A depth ladder first, one for each dye on the cloth that you dye most. Then blends of the pairs you use. A triangle of three dyes in steps of 10 % is 66 pieces: plan a day for it.',
            '[What to sample next] proposes the pieces that would teach the predictions most.',
          ],
        },
        {
          heading: 'Dye it',
          text: [],
          steps: [
            'Make the stock solutions that the page lists, a little more than is used.',
            'Print the bench page and the labels, and lay the labels out before you pour.',
            'Measure with one syringe for each dye. The smallest volumes carry the largest error: below 1 mL, a weaker stock solution is surer.',
            'Wash off, dry, and lay the pieces out in the order of the sheet.',
          ],
        },
        {
          heading: 'Read it',
          text: [
            'One photo of the whole sheet beside a card reads all pieces; place its corners when you are asked. Or type what an instrument says under [Type or measure them]. [Keep the results] stores the readings, and the pieces can then go into the library as swatches.',
          ],
        },
      ],
      also: ['photo', 'knowledge'],
    },
  ],
};
