// The button of a page to print.
$('print').hidden = false;
$('print').onclick = () => print();
