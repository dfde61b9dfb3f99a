import type { GuideGroup } from './section.ts';

export const PRODUCTION: GuideGroup = {
  title: 'Production and orders',
  sections: [
    {
      slug: 'lots',
      title: 'Production log',
      lead: 'Every lot: what was planned, what the scale and the clock said, what came out and what it cost.',
      screens: ['/lots', '/lots/:id', '/lots/:id/sheet', '/lots/:id/label', '/lots/:id/swatch'],
      parts: [
        {
          heading: 'Read a lot',
          text: [
            'Plan and actual stand side by side: [Weighed, plan beside actual], [Steps, plan beside actual], [What happened]. Nothing overwrites a plan, and nothing is erased from the log. What was undone stays, struck out, with the reason.',
            'A closed lot keeps the names, strengths, prices and day that it was closed with. What is called otherwise now stands beside it.',
          ],
        },
        {
          heading: 'Do it again',
          text: [
            '[Repeat as done] plans a new lot by what was really weighed and dyed. [Repeat as planned] goes by the first plan. The colour that came out belongs to what was done: repeat that, unless the deviation was the mistake.',
          ],
        },
        {
          heading: 'Judge the colour',
          text: [
            'Add a reading under [Colour that came out], from an instrument or a photo. It is held against the standard of the order or the swatch, by the formula and the tolerance that were agreed. Judge the goods dry and cooled, and look at them too: a number sees one spot.',
          ],
        },
        {
          heading: 'On paper',
          text: [
            '[Bench sheet] prints the weigh-up and the steps, for a day when the network is down or hands are too wet. [Label] goes with the goods: keep goods of one dye lot together.',
          ],
        },
        {
          heading: 'What reaches the record late',
          text: [
            'A weighing that was made in time and arrived after the finish is recorded at its own time. Stock and cost move as they would have then, and the owner is asked whether it stands.',
          ],
        },
      ],
      also: ['plan', 'bench', 'lot-cost'],
    },
    {
      slug: 'plan',
      title: 'Plan a lot',
      lead: 'Goods, colours and a method in; masses, baths, schedule, shortages and cost out, as you type.',
      screens: ['/lots/new'],
      sends: ['/lots', '/lots/plan'],
      parts: [
        {
          heading: 'Goods',
          text: [
            'Say how the mass was found. [weighed dry] is best. For [weighed damp], dry a small piece and weigh it before and after, or state the percentage of water. [from its area] needs the fibre’s mass per area, and [from put-ups] the mass of one.',
            'Every gram of dye goes by this figure. Wrung-out cotton can hold its own mass in water. Taken for dry, it gets twice the depth, and nothing takes dye out again.',
          ],
        },
        {
          heading: 'Colours',
          text: [
            'One colour over all of the goods, or several, each over its share. A share of 40 % means that four tenths of the piece take that colour. The total depth that results is shown: it can exceed what the class takes up, and the rest washes out.',
          ],
        },
        {
          heading: 'What the weigh-up says',
          text: [
            'Masses are rounded to your scale, and lines still add up to the rounded total. Where the scale cannot tell the mass closely enough, a stock solution is proposed with its volume. Raise or lower that limit in Settings.',
            'Salt, soda ash and the like come from the method, each by its own measure. Make-up water is what is left of the bath after all solutions are in.',
          ],
        },
        {
          heading: 'What goes wrong',
          text: [
            'A shortage names what is missing and from which container. You may plan all the same, and take from another jar at the bench.',
            'A warning that dye and fibre do not suit each other means what it says: the shade will not come, or will not stay, and alkali harms wool and silk.',
            'The cautions on the plan are the usual ones of its dye class and method. The safety data sheet of the product in hand and your local rules decide.',
          ],
        },
      ],
      also: ['bench', 'methods', 'typing'],
    },
    {
      slug: 'bench',
      title: 'Bench',
      lead: 'The one screen for wet hands: weigh, run the steps, and say what really happens.',
      screens: ['/lots/:id/bench'],
      sends: [
        '/lots/:id/adjustments',
        '/lots/:id/log',
        '/lots/:id/photos',
        '/lots/:id/questions/:questionId/answer',
        '/lots/:id/steps',
        '/lots/:id/voices',
        '/lots/:id/weighings',
      ],
      parts: [
        {
          heading: 'Weigh',
          text: [
            'The next line stands large, with its target and the ± that it may be off. Tap the container that you take from: it decides unit and target. Type what the scale says and press [It is weighed]. If more is wanted, weigh the rest and press [Add it].',
            'A container that is past its best-before, empty, or of another strength or form than planned is not proposed. It says why, and you may tap it all the same: its own target then stands there.',
            'A reading that can hardly be meant (610 for 6.1) is asked about once, in one tap.',
          ],
        },
        {
          heading: 'Over the target',
          text: [
            'You see the ways out, each with what every other line becomes: [Dye more goods], [Let it be deeper], [Discard and weigh again]. Once the powder is in the bath: [It is in the bath: add the others], or [Keep it as made] and live with a moved hue.',
            'A way out is applied on the figures that you saw. If another phone has weighed that line meanwhile, nothing changes, and the bench asks again. Undo a choice from the log, the newest first.',
          ],
        },
        {
          heading: 'A scale that types',
          text: [
            'A scale that writes its readings as a keyboard does needs no tap between two lines. The next field is ready by itself. While a line waits for a decision, what the scale types is not taken down, and the bench says so.',
          ],
        },
        {
          heading: 'Run the steps',
          text: [
            '[Start] begins a step and its timer; [Next:] ends it and begins the one after. Timers survive a reload and a power cut, since they count from the recorded start. A step that began by a wrong clock can be ended by the right one, and the log says that one of the two times is wrong.',
          ],
        },
        {
          heading: 'Say what really happens',
          text: [
            'Tap under [Instead of …] what was planned, then under [… I did] what you did. Two taps, no typing. Notes, temperatures, photos and voice notes stand below. A recipe that came out well by a forgotten deviation never comes out again.',
            'A phone gives a page its microphone only over https. Over plain http, choose a recording that the phone’s own recorder made.',
          ],
        },
        {
          heading: 'Put a mistake right',
          text: [
            'Open [Undo] at the entry, say why, and press [Undo it]. The entry stays, struck out; stock is put back. Undo a reading that a way out rests on, and the bench offers to undo the choice too.',
          ],
        },
        {
          heading: 'Two people at one lot',
          text: ['Each sees the other’s entries within a second or two. A reading that is half typed is left alone.'],
        },
        {
          heading: 'Without network',
          text: [
            'Go on working. Every entry is kept on the device first and sent when the studio’s computer answers: in order, once, and with the time at which it happened. The bar at the top tells what has not been sent yet, and within five seconds whether the computer can be reached.',
            'If one entry is refused, the rest of that lot waits until you try again or drop it. Where the device does not store an entry (no room, a private window), the open page holds it and says so: do not close that page.',
            'Over https a bench that was opened once opens again without network. Over plain http it goes on for as long as its page stays open. Finishing, planning and all other forms need the network.',
          ],
        },
      ],
      also: ['placement', 'finish', 'trust'],
    },
    {
      slug: 'placement',
      title: 'How it lies',
      lead: 'Draw colours, folds, bindings, clamps and ice, so that a pattern can be laid again.',
      screens: ['/lots/:id/placement'],
      sends: ['/lots/:id/placements'],
      parts: [
        {
          heading: 'Draw',
          text: [
            'Choose a tool and draw with a finger. By keyboard, the arrows walk and Enter does what the chosen tool does. [Keep it as the plan] says how it is meant to lie; [It lies like this] says how it lies now.',
            'Draw it anew half-way if you fold again. Every version stays in the log at its time, with the planned one beside it.',
          ],
        },
        {
          heading: 'What a drawing cannot say',
          text: ['Write it under [In words]: scrunched, folds up, on a rack. The words alone are worth keeping too.'],
        },
      ],
      also: ['bench'],
    },
    {
      slug: 'finish',
      title: 'Finish a lot',
      lead: 'What came out, whose hands worked on it, and what to do differently. Then the lot stands for good.',
      screens: ['/lots/:id/outcome'],
      sends: ['/lots/:id/abandonment'],
      parts: [
        {
          heading: 'Before you press Finish',
          text: [
            'Count the pieces: [First quality], [Seconds], [To rework], [Scrap]. Fill in the time that somebody worked on it, not the time that it lay. Planned times stand there already; put what it was. Labour is often the largest part of a cost.',
            'A line without a reading is asked about. Weigh it, or tick that there is none: the cost then lacks it and stock has not moved. Add it later on the lot’s cost page.',
          ],
        },
        {
          heading: 'What [Finish the lot] does',
          text: [
            'It closes the plan, the record and the costs as they stand. Later changes of a price, a name or a strength no longer touch this lot. What was forgotten or wrong is set right on its cost page, by lines with a reason.',
          ],
        },
        {
          heading: 'Give it up',
          text: [
            '[Give it up] closes a lot that will not be finished, with the reason. What was weighed for it stays used and stays on its cost.',
          ],
        },
      ],
      also: ['lots', 'lot-cost'],
    },
    {
      slug: 'orders',
      title: 'Orders and customers',
      lead: 'Who wants what, in which shade, how close, by when, and how far it is.',
      screens: [
        '/orders',
        '/orders/new',
        '/orders/:id',
        '/orders/:id/edit',
        '/orders/:id/lines/new',
        '/order-lines/:id/edit',
        '/customers',
        '/customers/new',
        '/customers/:id',
        '/customers/:id/edit',
      ],
      sends: ['/order-lines/:id'],
      parts: [
        {
          heading: 'Take an order',
          text: [
            'One line for each thing. Name the shade by a swatch, by a recipe, in words, or all three. Agree on how far it may differ and by which formula, and write it down under [May differ, measured by] and [Up to]. That ends most disputes before they begin.',
          ],
        },
        {
          heading: 'From order to lot',
          text: [
            'Plan a lot from the line: goods, shade and tolerance come with it. The order then shows how many good pieces are there. One lot can serve several lines, and one line several lots.',
          ],
        },
        {
          heading: 'Goods of several lots on one line',
          text: [
            'No two lots dye quite alike. Goods of several lots leave on one line only with a note of how they go together: kept apart, or looked at side by side and found alike.',
          ],
        },
        {
          heading: 'Changes',
          text: [
            'What a closed lot was dyed for stands as it was agreed then. A later price or tolerance belongs to later lots.',
          ],
        },
      ],
      also: ['quote', 'plan'],
    },
    {
      slug: 'quote',
      title: 'Quote',
      lead: 'Prices for an order from the plans of its lots.',
      screens: ['/orders/:id/quote', '/orders/:id/quote/paper'],
      parts: [
        {
          heading: 'Markup or margin',
          text: [
            'Markup goes on the cost, margin is a part of the price: 50 % markup is 33.3 % margin. Both stand beside every price. Say which one you mean, and never swap the words when you talk to your accountant.',
          ],
        },
        {
          heading: 'What to add',
          text: [
            '[Set-up of each lot] is for stock solutions and washing out, often more than the dye. [Minimum charge of a line] keeps the very small ones from costing you money. A piece is rounded up to the smallest coin, so that what you meant to earn is reached.',
            'Prices are before tax. A quote needs planned lots: without a plan there is no cost to go by.',
          ],
        },
      ],
      also: ['orders', 'costing'],
    },
  ],
};
